"""What a load or check says: every problem is counted, none is cut off unsaid, and each line names its value."""

from pathlib import Path

import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.load import check
from pipelines.logs.finding import Export
from pipelines.logs.opening import open_export
from pipelines.wording.intake import report_text, set_aside_text

HEADER = "unit_id,stick,family,received_on,action,outcome"


def said(folder: Path, text: str, mapping: str = "") -> str:
    file, words = folder / "jobs.csv", folder / "words.toml"
    file.write_text(text, encoding="utf-8")
    words.write_text(mapping, encoding="utf-8")
    return report_text(check([file], mapping=words))


def jobs(*actions: str, on: str = "2026-01-05") -> str:
    return "\n".join([HEADER, *(f"U{number},L,Nolm,{on},{action},pass" for number, action in enumerate(actions))])


def test_a_check_names_every_unknown_word_so_that_one_mapping_file_settles_them(tmp_path):
    text = said(tmp_path, jobs(*(f"work {number}" for number in range(12))))
    assert [number for number in range(12) if f"'work {number}'" not in text] == []
    assert "more kind" not in text


def test_a_check_says_how_many_kinds_of_problem_it_does_not_name(tmp_path):
    assert "and 10 more kinds of problem in this file" in said(tmp_path, jobs(*(f"work {number}" for number in range(40))))


def test_a_check_says_how_many_headings_it_does_not_name(tmp_path):
    wide = ",".join(f"extra {number}" for number in range(50))
    text = said(tmp_path, f"{HEADER},{wide}\nU1,L,Nolm,2026-01-05,clean_air,pass{',' * 50}\n")
    assert "'extra 39', and 10 more" in text


def test_dates_with_dots_are_not_called_year_first(tmp_path):
    assert "dates clear as written" in said(tmp_path, jobs("clean_air", on="13.01.2026"))


@pytest.mark.parametrize(("told", "order"), [("true", "day first"), ("false", "month first")])
def test_the_date_order_of_the_mapping_file_is_the_one_reported(tmp_path, told, order):
    text = said(tmp_path, jobs("clean_air", on="03/04/2026"), f"[file]\nday_first = {told}\n")
    assert f"dates {order}" in text


def test_a_line_set_aside_names_column_and_value_once():
    hours = {
        "file": "jobs.csv", "sheet": "", "line": 4, "column_name": "usage_hours", "value": "90.0",
        "reason": "the hours are lower than at an earlier date", "remedy": "Correct the hours.", "is_row": False,
    }  # fmt: skip
    word = hours | {"column_name": "stick", "value": "middle", "reason": "'middle' is not a known word for stick", "is_row": True}
    assert set_aside_text(pd.DataFrame([hours, hours, word])).splitlines() == [
        "jobs.csv, line 4: usage_hours 90.0: the hours are lower than at an earlier date (cell left blank). Correct the hours.",
        "jobs.csv, line 4: 'middle' is not a known word for stick (set aside). Correct the hours.",
    ]


@pytest.mark.parametrize("text", ['[{"Serial": "U1"}]', '[\n {"Serial": "U1"}]', '{"jobs": []}'])
def test_json_is_called_by_its_name(tmp_path, text):
    (tmp_path / "jobs.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="is JSON, not a table"):
        open_export(Export(tmp_path / "jobs.csv", "jobs.csv"), tmp_path)
