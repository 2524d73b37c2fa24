"""What leaves the screen as a file is whole, readable, and harmless in a spreadsheet."""

import io
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import streamlit

import dashboard.screens
from dashboard.parts.export import answer_sheets
from pipelines.answers.files import csv_bytes, workbook_bytes
from tests.charts.answers import answer, cleaning_group, life_group, unknown_age

SCREENS = sorted(one.stem for one in Path(dashboard.screens.__file__).parent.glob("[a-z]*.py"))
#: What a screen must be told before it has anything to give.
TOLD = {"before_after": {"start": "2025-03-01"}, "shelf": {"lead_time_days": "30"}}
HOSTILE = ["=1+1", "+cmd", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "plain", "a\x07b", "0012"]


def test_a_csv_is_read_back_as_it_was():
    frame = pd.DataFrame({"family": ["Corvath", "Ämbrel"], "share": [0.25, None], "count": [3, 4]})
    read = pd.read_csv(io.BytesIO(csv_bytes(frame)), encoding="utf-8-sig")
    pd.testing.assert_frame_equal(read, frame)


def test_formulas_from_the_log_get_an_apostrophe_in_a_csv():
    read = pd.read_csv(io.BytesIO(csv_bytes(pd.DataFrame({"=bad": HOSTILE}))), encoding="utf-8-sig", dtype=str)
    assert list(read.columns) == ["'=bad"]
    assert list(read["'=bad"].str[:2]) == ["'=", "'+", "'-", "'@", "'\t", "'\r", "pl", "a ", "00"]


def test_formulas_from_the_log_are_text_in_a_workbook():
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes({"rows": pd.DataFrame({"value": HOSTILE})})))
    cells = [row[0] for row in book["rows"].iter_rows(min_row=2)]
    assert {cell.data_type for cell in cells} == {"s"}
    assert [cell.value[:2] for cell in cells][:4] == ["'=", "'+", "'-", "'@"]
    assert cells[-1].value == "0012"


def test_numbers_stay_numbers_and_blanks_stay_blank_in_a_workbook():
    frame = pd.DataFrame({
        "share": [0.5, None, 1.0], "count": pd.array([1, None, 3], dtype="Int64"),
        "on": pd.to_datetime(["2025-01-02", None, "2025-01-03"]),
    })  # fmt: skip
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes({"rows": frame})))
    first, second, _ = book["rows"].iter_rows(min_row=2, values_only=True)
    assert first[:2] == (0.5, 1)
    assert first[2].isoformat() == "2025-01-02T00:00:00"
    assert second == (None, None, None)


def test_a_negative_number_is_no_formula():
    frame = pd.DataFrame({"change": [-1.5]})
    assert b"\r\n-1.5\r\n" in csv_bytes(frame)
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes({"rows": frame})))
    assert book["rows"]["A2"].value == -1.5


def test_a_life_answer_has_its_groups_curves_left_out_and_how_it_was_asked():
    sheets = answer_sheets(answer([life_group("Corvath", since_first_seen=unknown_age())]))
    assert list(sheets) == ["groups", "curves", "left out", "asked"]
    assert list(sheets["groups"]["age"]) == ["known", "since_first_seen"]
    assert list(sheets["curves"]["age"].unique()) == ["known", "since_first_seen"]
    assert len(sheets["curves"]) == 12
    assert dict(sheets["asked"].to_numpy())["setting horizon"] == 90.0
    assert list(sheets["left out"]["count"]) == [3, 9]


def test_a_cleaning_answer_has_no_sheet_of_curves():
    said = answer([cleaning_group({"family": "Corvath"}, k=3, n=9)], question="cleaning-success", clock="days")
    assert list(answer_sheets(said)) == ["groups", "left out", "asked"]


@pytest.mark.parametrize("make", [csv_bytes, lambda frame: workbook_bytes({"rows": frame})])
def test_an_empty_table_gives_a_file_with_headings_only(make):
    assert make(pd.DataFrame({"file": [], "line": []}))


@pytest.mark.parametrize("name", SCREENS)
def test_every_button_of_a_screen_gives_its_file(screen, name, monkeypatch):
    files, show = {}, streamlit.download_button

    def shown(label, data, *, file_name, **more):
        files[file_name] = data() if callable(data) else data
        return show(label, b"", file_name=file_name, **more)

    monkeypatch.setattr(streamlit, "download_button", shown)
    app = screen(name, **TOLD.get(name, {}))
    assert not app.exception
    assert all(files.values())
