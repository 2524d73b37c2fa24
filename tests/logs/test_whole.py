"""A file read whole gives back every line, understood or not, in its order."""

from __future__ import annotations

import pandas as pd
import pytest
from openpyxl import Workbook

from pipelines.errors import InputError
from pipelines.logs.mapping import FileMapping
from pipelines.logs.whole import read_whole

TEXT = (
    'Notes of June;;;\nSerial;Model;Remark;Rest offset (before)\n0012;Nolm;"two\nlines; and more";7,5\n\n13;Velm;;x\nTotal;;;\n'
)
ROWS = [
    ["Notes of June", "", "", ""], ["Serial", "Model", "Remark", "Rest offset (before)"],
    ["0012", "Nolm", "two\nlines; and more", "7,5"], [""], ["13", "Velm", "", "x"], ["Total", "", "", ""],
]  # fmt: skip


def read(path, tmp_path, **mapping):
    scratch = tmp_path / "scratch"
    scratch.mkdir(exist_ok=True)
    return read_whole(path, scratch, FileMapping(**mapping), table="jobs")


def test_a_text_file_keeps_its_title_its_blank_lines_and_its_total(tmp_path):
    (tmp_path / "a.csv").write_text(TEXT, encoding="utf-8")
    whole = read(tmp_path / "a.csv", tmp_path)
    assert (whole.rows, whole.heading, whole.others) == (ROWS, 1, [])
    assert whole.sheet.recognised.columns == {0: "unit_id", 1: "family", 2: "note", 3: "af_rest_offset_pct"}


def test_a_line_whose_quotation_mark_stays_open_is_kept_as_it_is(tmp_path):
    bad = '14;Velm;"a mark that never closes' + "x" * 500 + ";1"
    (tmp_path / "a.csv").write_text(f"Serial;Model;Remark;Reach (before)\n{bad}\n15;Nolm;;2\n", encoding="utf-8")
    whole = read(tmp_path / "a.csv", tmp_path)
    assert whole.rows[1:] == [[bad], ["15", "Nolm", "", "2"]]


def test_a_workbook_gives_the_first_sheet_of_sticks_and_names_the_others(tmp_path):
    book = Workbook()
    book.active.title = "about"
    book.active.append(["made by hand"])
    sheet = book.create_sheet("sticks")
    for row in (["Bench list"], ["Serial", "Model", "Reach as found"], ["0012", "Nolm", 97.5], [], [13, "Velm", 88]):
        sheet.append(row)
    book.create_sheet("empty")
    book.save(tmp_path / "a.xlsx")
    whole = read(tmp_path / "a.xlsx", tmp_path)
    assert (whole.heading, whole.others) == (1, ["about"])
    assert whole.rows == [["Bench list", "", ""], ["Serial", "Model", "Reach as found"], ["0012", "Nolm", "97.5"],
                          ["", "", ""], ["13", "Velm", "88"]]  # fmt: skip


def test_a_parquet_file_gives_all_its_columns(tmp_path):
    frame = pd.DataFrame({"unit_id": ["1", None], "colour": ["red", "blue"], "af_reach_pct": [97.5, None], "n": [1, 2]})
    frame.to_parquet(tmp_path / "a.parquet", index=False)
    whole = read(tmp_path / "a.parquet", tmp_path)
    assert whole.rows == [list(frame.columns), ["1", "red", "97.5", "1"], ["", "blue", "", "2"]]


def test_the_users_own_words_for_headings_count(tmp_path):
    (tmp_path / "a.csv").write_text("What it is,Wobble\nNolm,3\n", encoding="utf-8")
    own = {"what it is": "family", "wobble": "af_jitter_pct"}
    assert set(read(tmp_path / "a.csv", tmp_path, columns=own).sheet.recognised.columns.values()) == set(own.values())


@pytest.mark.parametrize("content", [b"", b"%PDF-1.4", b"just a word\n", b'[{"a": 1}]', b"PK\x03\x04broken"])
def test_what_is_no_table_is_an_error_in_words(tmp_path, content):
    (tmp_path / "a.csv").write_bytes(content)
    with pytest.raises(InputError):
        read(tmp_path / "a.csv", tmp_path)
