"""A pack is worked out anew from the raw files: all figures the same, or what stands against it is named."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from pipelines import cli
from pipelines.errors import InputError
from pipelines.pack import reproduce as room
from pipelines.pack.made import MANIFEST
from pipelines.pack.reproduce import reproduce
from pipelines.settings import Settings
from tests.pack.packs import members_of, tampered


def figures(path: Path) -> int:
    """Count the numbers of the answers by the words of JSON alone."""
    count = 0

    def counted(word: str) -> float:
        nonlocal count
        count += 1
        return float(word)

    for name, member in members_of(path).items():
        if name.endswith(".json") and name != MANIFEST:
            json.loads(member, parse_int=counted, parse_float=counted)
    return count


@pytest.fixture
def say(capsys):
    def run(*words: object) -> tuple[int, str, str]:
        capsys.readouterr()
        code = cli.main([str(word) for word in words])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return run


def test_one_command_makes_a_pack_and_one_works_it_out_anew(log, tmp_path, say):
    path = tmp_path / "it.zip"
    asked = ["--warehouse", log.warehouse, "--case", "batch=TC-20", "notes=yes", "--level", "0.9", "--set", "quiet_lag_days=7"]
    code, out, error = say("answer", "batch-exhibit", *asked, "--out", path)
    assert code == 0
    assert "Batch TC-20" in out
    assert f"SHA-256 of {path}: " in error
    code, out, _ = say("reproduce", path, *log.exports)
    assert (code, out) == (0, f"All {figures(path):,} figures are the same.\n")


def test_files_may_lie_elsewhere_under_other_names(log, pack, tmp_path):
    for number, one in enumerate(file for folder in log.exports for file in sorted(folder.iterdir())):
        shutil.copy(one, tmp_path / f"{number}{one.suffix}")
    made = reproduce(pack, [tmp_path])
    assert made.compared.exact == made.compared.figures == figures(pack)
    assert made.compared.differences == []


def test_files_missing_changed_and_extra_are_named(log, pack, tmp_path, say):
    place = tmp_path / "exports"
    shutil.copytree(log.exports[0], place)
    (place / "extra.csv").write_text("unit_id,read_on,hours\n", encoding="utf-8")
    code, _, error = say("reproduce", pack, place)
    assert code == 3
    assert "1 file is missing: own.csv." in error
    shutil.copy(log.exports[1] / "own.csv", place)
    code, out, _ = say("reproduce", pack, place)
    assert code == 0
    assert "Left out, because the log did not have it: extra.csv." in out
    with (place / "jobs.csv").open("a", encoding="utf-8") as jobs:
        jobs.write("\n")
    code, _, error = say("reproduce", pack, place)
    assert code == 3
    assert "1 file has changed: jobs.csv." in error


def test_a_figure_altered_with_its_checksum_does_not_come_out(log, pack, say):
    def change(content: bytes) -> bytes:
        told = json.loads(content)
        row = next(one for one in told["batches"] if one["batch"] == "TC-20")
        row["expected"] *= 0.9
        return json.dumps(told).encode()

    code, out, _ = say("reproduce", tampered(pack, "verdict.json", change, is_hidden=True), *log.exports)
    assert code == cli.OTHERWISE
    assert "1 thing of the pack came out otherwise" in out
    assert "verdict.json batches/" in out
    assert "/expected: " in out


def test_a_row_and_a_page_altered_with_their_checksums_do_not_come_out(log, pack):
    row = tampered(pack, "rows.csv", lambda one: one.replace(b"\r\nfitted,", b"\r\nfound,", 1), is_hidden=True)
    assert [one.member for one in reproduce(row, log.exports).compared.differences] == ["rows.csv"]
    page = tampered(pack, "exhibit.html", lambda one: one.replace(b"TC-20", b"TC-21"), is_hidden=True)
    assert [one.member for one in reproduce(page, log.exports).compared.differences] == ["exhibit.html"]


def test_settings_altered_in_the_manifest_do_not_come_out(log, pack):
    def change(content: bytes) -> bytes:
        told = json.loads(content)
        told["settings"]["quiet_lag_days"] = 100
        return json.dumps(told).encode()

    assert reproduce(tampered(pack, MANIFEST, change, is_hidden=True), log.exports).compared.differences


def test_other_software_is_named(log, pack, monkeypatch, say):
    monkeypatch.setattr(room, "software", lambda: {**room.open_pack(pack).software, "numpy": "0.1"})
    code, out, _ = say("reproduce", pack, *log.exports)
    assert code == 0
    assert "It was made with other software: numpy " in out
    assert "(here 0.1)." in out


@pytest.mark.parametrize("name", ["../../outside.csv", "/outside.csv", "a/../../../outside.csv", "bad\0name.csv", "x" * 300, ""])
def test_a_file_name_that_leads_out_of_its_folder_is_refused(log, pack, tmp_path, name):
    def change(content: bytes) -> bytes:
        told = json.loads(content)
        told["files"][0]["file"] = name
        return json.dumps(told).encode()

    with pytest.raises(InputError, match="The pack names a file"):
        reproduce(tampered(pack, MANIFEST, change, is_hidden=True), log.exports)


def test_nothing_is_left_behind(log, pack, tmp_path, monkeypatch):
    monkeypatch.setattr(room.tempfile, "tempdir", str(tmp_path))
    reproduce(pack, log.exports)
    assert list(tmp_path.iterdir()) == []


def test_a_log_of_corrected_rows_comes_out_in_its_order(log, tmp_path):
    """The second load replaces rows of the first, so the order matters."""
    from pipelines.load import load

    first, second = log.exports[0], tmp_path / "later"
    second.mkdir()
    head, *rows = (first / "jobs.csv").read_text(encoding="utf-8").splitlines()
    place = head.split(",").index("outcome")
    corrected = [line.split(",") for line in rows if "TC-20" in line and '"' not in line]
    for cells in corrected:
        cells[place] = "fail"
    (second / "jobs.csv").write_text("\n".join([head, *(",".join(one) for one in corrected)]) + "\n", encoding="utf-8")
    again = type(log)([first, second], tmp_path / "warehouse")
    for folder in again.exports:
        load([folder], warehouse=again.warehouse, settings=Settings())
    pack = again.pack(tmp_path)
    assert {one["replaced"] for one in json.loads(members_of(pack)[MANIFEST])["files"] if one["load"] == 2} == {len(corrected)}
    made = reproduce(pack, again.exports)
    assert made.compared.exact == made.compared.figures
    assert made.compared.differences == []
