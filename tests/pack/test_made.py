"""A pack holds the answers word for word, checksums that are true, and the same bytes for the same log."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile

import pytest

from pipelines.errors import SettingError
from pipelines.pack.made import MANIFEST, pack_bytes, write_pack
from pipelines.settings import Settings
from pipelines.wording.batch_exhibit import MEMBERS, READ_WITH_CARE
from tests.pack.packs import BATCH, make_log, members_of


@pytest.fixture(scope="module")
def members(pack):
    return members_of(pack)


@pytest.fixture(scope="module")
def told(members):
    return json.loads(members[MANIFEST])


def test_the_same_log_loaded_elsewhere_gives_the_same_bytes(pack, tmp_path):
    assert pack_bytes(make_log(tmp_path).ask()) == pack.read_bytes()


def test_other_settings_give_other_bytes(log, pack):
    assert pack_bytes(log.ask(settings=Settings(batch_ratio=3.0))) != pack.read_bytes()


def test_it_holds_what_is_said_and_a_mapping_file_and_nothing_else(pack, members):
    assert set(members) == {*MEMBERS, "mapping_1.toml"}
    with zipfile.ZipFile(pack) as opened:
        assert {one.date_time for one in opened.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert opened.namelist()[0] == MANIFEST


def test_the_checksums_are_those_of_the_other_members(members, told):
    assert told["members"] == {name: hashlib.sha256(one).hexdigest() for name, one in members.items() if name != MANIFEST}


def test_the_checksums_of_the_files_are_those_of_the_exports(log, told):
    lying = {hashlib.sha256(one.read_bytes()).hexdigest() for folder in log.exports for one in folder.iterdir()}
    assert {one["sha256"] for one in told["files"]} == lying
    assert [one["load"] for one in told["files"]] == sorted(one["load"] for one in told["files"])
    assert [one["file"] for one in told["files"] if one["load"] == 2] == ["own.csv"]


def test_the_mapping_file_is_in_it_as_it_was(log, members, told):
    assert members["mapping_1.toml"] == (log.warehouse.parent / "words.toml").read_bytes()
    used = {one["load"]: one["mapping"] for one in told["files"]}
    assert used[1] is None
    assert told["mappings"] == {used[2]: "mapping_1.toml"}


def test_the_manifest_says_how_it_was_asked_and_how_to_ask_again(log, told):
    assert (told["question"], told["case"], told["level"]) == ("batch-exhibit", {"batch": BATCH, "notes": False}, 0.95)
    assert {"python", "duckdb", "lifelines", "numpy", "scipy", "pandas", "stickfleet"} == set(told["software"])
    assert told["changed"] == {}
    assert told["commands"][0] == "stickfleet reproduce PACK.zip PATH…"
    made = log.ask(settings=Settings(quiet_lag_days=5, age=None), notes="yes")
    assert made.changed == {"quiet_lag_days": 5}


def test_the_answers_are_what_the_command_line_prints(log, members, capsys):
    """Sums by several threads may differ in the last digits, so numbers are held to 1e-9."""
    from pipelines import cli

    for name, question in (("verdict", "batch-verdict"), ("pattern", "batch-pattern")):
        case = [] if name == "verdict" else ["--case", f"batch={BATCH}"]
        assert cli.main(["answer", question, "--warehouse", str(log.warehouse), "--format", "json", *case]) == 0
        printed, packed = capsys.readouterr().out, members[f"{name}.json"].decode()
        numbers = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")
        assert numbers.sub("#", printed) == numbers.sub("#", packed)
        assert [float(one) for one in numbers.findall(printed)] == pytest.approx(
            [float(one) for one in numbers.findall(packed)], rel=1e-9
        )


def test_the_page_tells_all_of_it_and_asks_nobody(log, members):
    page, answer = members["exhibit.html"].decode(), log.ask()
    text = re.sub(r"\s+", " ", page)
    assert answer.sentence in text
    for heading in ("Counts", "What to mind", "What was left out, and why", "Method", "To work it out anew"):
        assert f"<h2>{heading}</h2>" in page
    for one in (READ_WITH_CARE[0], "Notes of the jobs are left out of rows.csv", "lines of the files that could not be read"):
        assert one in text
    assert all(one.sha256 in page for one in answer.files)
    assert page.count("data:image/svg+xml;base64,") >= 2
    assert not re.search(r"<script|<link|<iframe|src=\"(?!data:)|url\((?!#)|https?://", page)


def test_text_of_the_log_is_shown_on_the_page_and_never_run(tmp_path):
    log = make_log(tmp_path)
    jobs = log.exports[0] / "part_batches.csv"
    assert "Teal" in jobs.read_text(encoding="utf-8")
    jobs.write_text(re.sub(r"Teal \w+", "<img src=x onerror=alert(1)> $x_", jobs.read_text(encoding="utf-8")), encoding="utf-8")
    again = tmp_path / "again"
    again.mkdir()
    from pipelines.load import load

    load(log.exports[:1], warehouse=again, settings=Settings())
    page = members_of(type(log)(log.exports[:1], again).pack(tmp_path))["exhibit.html"].decode()
    assert "&lt;img src=x onerror=alert(1)&gt; $x_" in page
    assert "<img src=x" not in page


def test_a_pack_is_written_as_zip_only(log, tmp_path):
    answer = log.ask()
    with pytest.raises(SettingError, match=r"ends in [.]zip"):
        write_pack(answer, tmp_path / "pack.pdf")
    with pytest.raises(SettingError, match="folder that is there"):
        write_pack(answer, tmp_path / "none" / "pack.zip")
    sum_of_it = write_pack(answer, tmp_path / "pack.zip")
    assert sum_of_it == hashlib.sha256((tmp_path / "pack.zip").read_bytes()).hexdigest()
