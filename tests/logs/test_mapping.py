"""The user's mapping file."""

import pytest

from pipelines.errors import SettingError
from pipelines.logs.mapping import FileMapping, read

TEXT = """
[columns]
"Geräte-Nr" = "unit_id"
"Colour" = "ignore"
[codes.outcome]
"gut" = "pass"
"offen" = ""
[codes.action]
"große Reinigung" = "clean_flush+clean_open"
[file]
day_first = true
[scale]
af_rest_offset_pct = 100
[files."south*.csv".file]
day_first = false
decimal = ","
[files."south*.csv".fixed]
site_id = "south"
"""


def test_a_mapping_says_what_words_mean(tmp_path):
    mapping = mapped(tmp_path, TEXT).for_file("north.csv")
    assert mapping.columns == {"gerate nr": "unit_id", "colour": "ignore"}
    assert mapping.codes == {"outcome": {"gut": "pass", "offen": ""}, "action": {"große reinigung": "clean_flush+clean_open"}} | {
        "action": {"grosse reinigung": "clean_flush+clean_open"}
    }
    assert (mapping.day_first, mapping.decimal, mapping.scale) == (True, None, {"af_rest_offset_pct": 100.0})


def test_a_section_for_some_files_wins_over_the_rest(tmp_path):
    mapping = mapped(tmp_path, TEXT).for_file("exports/south 2.csv")
    assert (mapping.day_first, mapping.decimal, mapping.fixed) == (False, ",", {"site_id": "south"})
    assert mapping.columns["colour"] == "ignore"


def test_without_a_file_nothing_is_mapped():
    assert read(None).for_file("any.csv") == FileMapping()


def test_another_mapping_has_another_digest(tmp_path):
    assert mapped(tmp_path, TEXT).digest != mapped(tmp_path, TEXT.replace("gut", "fein")).digest


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('[columns]\n"a" = "colour"', "columns"), ('[codes.outcome]\n"a" = "great"', "codes.outcome"),
        ('[codes.colour]\n"a" = "b"', "codes.colour"), ("[file]\nday_first = 1", "file.day_first"),
        ('[file]\ndecimal = ";"', "file.decimal"), ('[file]\nencoding = "klingon"', "file.encoding"),
        ("[scale]\nusage_hours = 0", "scale.usage_hours"), ('[table]\nname = "joobs"', "table.name"),
        ("[colums]\na = 1", "colums"), ("columns = 3", "columns"), ("[scale]\nusage_hours = true", "scale.usage_hours"),
        ('[files."x.csv".file]\nday = true', 'files."x.csv".file.day'), ("files = 3", "files"), ("[files]\nx = 3", 'files."x"'),
    ],
)  # fmt: skip
def test_a_slip_in_the_mapping_is_named_by_its_place(tmp_path, text, place):
    with pytest.raises(SettingError) as raised:
        mapped(tmp_path, text)
    assert f"[{place}" in raised.value.what


@pytest.mark.parametrize("content", [b"[columns", b"\xff\xfe\x00", b'a = "x'])
def test_a_file_that_is_no_toml_is_refused(tmp_path, content):
    path = tmp_path / "mapping.toml"
    path.write_bytes(content)
    with pytest.raises(SettingError, match=r"mapping\.toml cannot be read"):
        read(path)


def test_a_mapping_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(SettingError, match="cannot be read"):
        read(tmp_path / "none.toml")


def mapped(folder, text: str):
    path = folder / "mapping.toml"
    path.write_text(text, encoding="utf-8")
    return read(path)
