"""Workbooks and Parquet files: cells become the text they show, and line numbers are sheet rows."""

import datetime as dt

import openpyxl
import pandas as pd
import pytest

from pipelines.errors import InputError
from tests.logs.bench import accounted, job

HEADINGS = list(job())
ROW = ["J1", "U1", "L", "Nolm", dt.datetime(2026, 4, 3), "clean_air", "pass"]


def book(path, **sheets: list[list[object]]):
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    path.parent.mkdir(parents=True, exist_ok=True)
    made.save(path)
    return path


@pytest.fixture
def path(bench):
    return bench.folder / "exports" / "log.xlsx"


def test_a_sheet_is_read_with_its_row_numbers(bench, path):
    two = ["J2", 12, "R", "Nolm", dt.date(2026, 4, 4), "opened", "ok"]
    book(path, Jobs=[["Repair log"], [], [*HEADINGS, "Hours (h)"], [None] * 7 + ["h"], [*ROW, 7.25], [], [*two, dt.time(1, 30)]])
    sheet = bench.load(path).sheets[0]
    assert (sheet.sheet, sheet.lines_read, sheet.loaded, sheet.blank, sheet.not_data) == ("Jobs", 7, 2, 1, 4)
    assert bench.rows("SELECT line, unit_id, received_on, usage_hours FROM job ORDER BY line") == [
        (5, "U1", dt.date(2026, 4, 3), 7.25), (7, "12", dt.date(2026, 4, 4), 1.5),
    ]  # fmt: skip


def test_long_numbers_that_a_spreadsheet_cut_are_no_ids(bench, path):
    book(path, Jobs=[HEADINGS, ["J1", 123456789012345678, *ROW[2:]], ["J2", "123456789012345678", *ROW[2:]]])
    assert bench.load(path).sheets[0].set_aside == 1
    assert bench.column("unit_id") == ["123456789012345678"]


def test_dates_typed_as_text_or_number_stand_beside_date_cells(bench, path):
    book(path, Jobs=[HEADINGS, ROW, ["J2", *ROW[1:4], "13/04/2026", *ROW[5:]], ["J3", *ROW[1:4], 46115, *ROW[5:]]])
    bench.load(path)
    assert [str(day) for day in bench.column("received_on")] == ["2026-04-03", "2026-04-13", "2026-04-03"]


def test_sheets_that_hold_no_table_are_passed_over_and_said(bench, path):
    book(path, Notes=[["to do"], ["buy swabs", "soon"]], Jobs=[HEADINGS, ROW], Empty=[])
    report = bench.load(path)
    assert [sheet.sheet for sheet in report.sheets] == ["Jobs"]
    assert {one.shown: one.why for one in report.skipped} == {
        "log.xlsx [Notes]": "no table that is known", "log.xlsx [Empty]": "an empty sheet",
    }  # fmt: skip


def test_two_tables_in_one_workbook_are_both_loaded(bench, path):
    book(path, Jobs=[HEADINGS, ROW], Units=[["unit_id", "family", "in_service_on"], ["U1", "Nolm", dt.datetime(2025, 1, 1)]])
    assert [sheet.table for sheet in bench.load(path).sheets] == ["jobs", "units"]


def test_a_workbook_without_any_table_is_refused(bench, path):
    book(path, Notes=[["to do"], ["buy swabs", "soon"]])
    with pytest.raises(InputError, match=r"log\.xlsx \[Notes\] holds no table"):
        bench.load(path)


def test_a_formula_is_not_run(bench, path):
    book(path, Jobs=[[*HEADINGS, "note"], [*ROW, '=HYPERLINK("x")']])
    bench.load(path)
    assert bench.column("note") == [None]


def test_a_damaged_workbook_is_refused(bench, path):
    content = book(path, Jobs=[HEADINGS, ROW]).read_bytes()
    path.write_bytes(content[: len(content) // 2])
    with pytest.raises(InputError, match=r"log\.xlsx is a damaged workbook"):
        bench.load(path)


def test_a_zip_that_is_no_workbook_is_refused(bench, path):
    import zipfile

    path.parent.mkdir(parents=True)
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("jobs.csv", "unit_id")
    with pytest.raises(InputError, match="is a zip file"):
        bench.load(path)


def test_a_workbook_named_csv_is_still_a_workbook(bench, path):
    book(path, Jobs=[HEADINGS, ROW]).rename(path.with_suffix(".csv"))
    assert bench.load().sheets[0].loaded == 1


def test_parquet_columns_become_cells(bench):
    frame = pd.DataFrame([job(), job(job_id="J2")]).assign(
        unit_id=[12, 345678901234567890], received_on=pd.to_datetime(["2026-04-03", "2026-04-04"]),
        usage_hours=[7.25, None], family=pd.Categorical(["Nolm", None]),
    )  # fmt: skip
    path = bench.folder / "exports" / "jobs.parquet"
    path.parent.mkdir(parents=True)
    frame.to_parquet(path)
    sheet = bench.load().sheets[0]
    assert (sheet.lines_read, sheet.loaded, sheet.set_aside, accounted(sheet)) == (2, 1, 1, True)
    assert bench.rows("SELECT line, unit_id, received_on, usage_hours, family FROM job") == [
        (1, "12", dt.date(2026, 4, 3), 7.25, "Nolm")
    ]
    assert bench.set_aside() == [(2, "family", "family is blank")]


def test_a_parquet_file_with_lists_is_refused(bench):
    path = bench.folder / "exports" / "jobs.parquet"
    path.parent.mkdir(parents=True)
    pd.DataFrame([job()]).assign(action=[["clean_air"]]).to_parquet(path)
    with pytest.raises(InputError, match="a column of lists"):
        bench.load()
