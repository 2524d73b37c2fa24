"""The committed exports: what the program makes, as messy as said, and small enough to keep."""

from __future__ import annotations

import csv
import gzip
import io
import json
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from example_data.exports import write_exports
from example_data.fleet import make
from example_data.plain import write_plain
from pipelines import contract

HOME = Path(__file__).resolve().parents[2] / "example_data"
KEPT = HOME / "exports"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("exports")
    fleet = make(20_000, 7)
    counts = write_exports(fleet, folder, seed=7)
    return folder, fleet, counts


def content(path: Path) -> object:
    """What a reader sees: cells of a workbook, text of a gzip, bytes of anything else (archive dates do not count)."""
    if path.suffix == ".xlsx":
        return list(openpyxl.load_workbook(path).active.iter_rows(values_only=True))
    if path.suffix == ".gz":
        return gzip.decompress(path.read_bytes())
    return path.read_bytes()


def test_the_committed_exports_are_what_the_program_makes(made):
    folder, _, _ = made
    names = sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
    assert names == sorted(str(path.relative_to(KEPT)) for path in KEPT.rglob("*") if path.is_file())
    for name in names:
        assert content(folder / name) == content(KEPT / name), name


def test_the_exports_are_about_20_000_jobs_and_under_6_megabytes(made):
    _, fleet, _ = made
    assert len(fleet.jobs) == pytest.approx(20_000, rel=0.06)
    assert sum(path.stat().st_size for path in KEPT.rglob("*") if path.is_file()) < 6_000_000


def test_about_one_job_row_in_a_hundred_is_broken_on_purpose(made):
    _, fleet, counts = made
    harmless = {"hours with a thousands mark", "both sticks in one row", "heading again", "line twice"}
    broken = sum(n for site in ("north", "south", "bench") for kind, n in counts[site].items() if kind not in harmless)
    assert 0.005 < broken / len(fleet.jobs) < 0.015


def test_neighbouring_quarters_overlap_and_some_rows_were_edited_between():
    one, other = (north_rows(quarter) for quarter in ("2024Q3", "2024Q4"))
    shared = one.index.intersection(other.index)
    assert len(shared) > 20
    assert (one.loc[shared, "Result"] != other.loc[shared, "Result"]).any()


def north_rows(quarter: str) -> pd.DataFrame:
    """The rows of one quarter of the first arcade by job number, each once, broken ones left out."""
    text = (KEPT / "north" / f"jobs_{quarter}.csv").read_text(encoding="utf-8-sig")
    header, *rows = [row for row in csv.reader(io.StringIO(text)) if row]
    whole = [row for row in rows if len(row) == len(header)]
    return pd.DataFrame(whole, columns=header).drop_duplicates("Job no").set_index("Job no")


def test_the_second_arcade_writes_semicolons_decimal_commas_and_a_total_row():
    text = (KEPT / "south" / "repair log 2025Q1.csv").read_text(encoding="windows-1252")
    lines = text.splitlines()
    assert lines[0].startswith("South arcade – repair log, 2025Q1;")
    assert lines[1] == ""
    assert lines[2].startswith("Asset tag;Side;")
    assert lines[-1].startswith("Total;")
    row = dict(zip(lines[2].split(";"), lines[3].split(";"), strict=True))
    assert row["Asset tag"].startswith("00")
    assert "," in row["Usage hours"] or row["Usage hours"].isdigit()


def test_the_workbooks_have_a_units_row_long_serials_as_text_and_dates_of_both_sorts():
    sheet = openpyxl.load_workbook(KEPT / "bench" / "bench jobs 2023-2024.xlsx").active
    header, units, *rows = sheet.iter_rows(values_only=True)
    assert "% half-scale" in units
    serials = [row[header.index("Serial number")] for row in rows]
    assert {len(serial) for serial in serials if serial} == {18}
    assert {type(row[header.index("Received on")]).__name__ for row in rows} == {"datetime", "str"}


def test_plain_files_have_dictionary_columns_iso_dates_and_one_line_a_job(tmp_path):
    fleet = make(1_000, 4)
    write_plain(fleet, tmp_path)
    for name in fleet.tables:
        header = (tmp_path / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
        assert set(header) <= {column.name for column in contract.columns_of(name)}
    jobs = pd.read_csv(tmp_path / "jobs.csv", dtype=str, keep_default_na=False)
    assert len(jobs) == len(fleet.jobs)
    assert jobs["received_on"].str.fullmatch(r"\d{4}-\d{2}-\d{2}").all()
    assert jobs["unit_id"].tolist() == fleet.jobs["unit_id"].tolist()


@pytest.mark.parametrize("world", ["easy", "hard"])
def test_the_written_truth_is_the_stated_one_and_its_counts_agree_with_a_smaller_run(world):
    written = json.loads((HOME / "truth.json").read_text(encoding="utf-8"))[world]
    run = make(60_000, 9, easy=world == "easy").truth
    assert written["bad_batch"] == run["bad_batch"]
    for name, said in run["families"].items():
        kept = written["families"][name]
        for key in ("first_life", "recurrence", "pass_chance", "wear", "contamination"):
            if key in said:
                assert kept[key] == pytest.approx(said[key], abs=1e-3), (name, key)
        # Both are shares of a count; 5 standard errors of the smaller one are allowed.
        error = (0.25 / said["passed_cleans"]) ** 0.5
        assert kept["hold_at_90_days"] == pytest.approx(said["hold_at_90_days"], abs=5 * error), name


@pytest.mark.parametrize(
    ("world", "keys"), [("easy", ("shape", "scale_h", "b10_h", "median_h")), ("hard", ("b10_h", "median_h"))]
)
def test_the_table_in_the_readme_is_the_written_truth(world, keys):
    text = (HOME / "README.md").read_text(encoding="utf-8")
    block = text.split(f"<!-- truth: {world} -->")[1].split("<!-- end -->")[0]
    rows = [[cell.strip() for cell in line.strip("|\n").split("|")] for line in block.strip().splitlines()[2:]]
    written = json.loads((HOME / "truth.json").read_text(encoding="utf-8"))[world]["families"]
    assert [row[0] for row in rows] == list(written)
    for name, *cells in rows:
        for cell, key in zip(cells, keys, strict=False):
            assert float(cell) == pytest.approx(written[name]["first_life"][key], abs=0.51 if key.endswith("_h") else 1e-9)
