"""Hostile and broken exports: every line accounted for, or an error a person can mend; never a traceback."""

import csv
import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.contract import columns_of
from pipelines.load import check
from pipelines.logs.dates import DateReader, Order
from pipelines.logs.numbers import NumberReader
from pipelines.logs.reading import ColumnReader
from pipelines.logs.refusal import Refusal
from pipelines.logs.splitting import split
from tests.logs.bench import TODAY, accounted, csv_of, job

HEADER = csv_of(job()).splitlines()[0]
CELL = st.one_of(
    st.sampled_from(
        ["", "L", "2026-01-05", "clean_air", "pass", "U1", "NA", '"', '""', '"a', "a,b", "7,5", "1:30", "9999", "x" * 300]
    ),
    st.text(alphabet=st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12),
)


def checked(content: bytes, name: str = "jobs.csv"):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        return check([path])


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(CELL, min_size=1, max_size=9), max_size=12), st.sampled_from(["\n", "\r\n"]))
def test_whatever_the_lines_hold_each_is_accounted_for(rows, ending):
    text = ending.join([HEADER, *(",".join(row) for row in rows)]) + ending
    report = checked(text.encode())
    assert all(accounted(sheet) for sheet in report.sheets)
    assert len(report.sheets) + len(report.refused) == 1


@settings(max_examples=25, deadline=None)
@given(st.binary(max_size=400), st.sampled_from(["jobs.csv", "jobs.xlsx", "jobs.csv.gz", "jobs.parquet"]))
def test_junk_is_refused_in_words(content, name):
    report = checked(content, name)
    assert len(report.refused) == 1
    assert report.refused[0].what
    assert report.refused[0].remedy


@settings(max_examples=25, deadline=None)
@given(st.binary(min_size=1, max_size=60), st.integers(0, 300))
def test_a_damaged_good_file_is_accounted_for_or_refused(damage, place):
    good = csv_of(*[job()] * 4).encode()
    report = checked(good[:place] + damage + good[place:])
    assert all(accounted(sheet) for sheet in report.sheets)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.lists(st.text(alphabet='ab,"\n', max_size=6), min_size=2, max_size=4), max_size=6))
def test_rows_that_are_written_by_the_book_come_back_as_they_were(rows):
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    lines = text.getvalue().splitlines(keepends=True)
    records = list(split(lines, ","))
    assert [list(record.fields) for record in records] == rows
    assert sum(record.line_count for record in records) == len(lines)


def _readers():
    by_name = {(column.table, column.name): column for table in ("jobs", "usage_readings") for column in columns_of(table)}
    for decimal in ".,":
        for name in ("usage_hours", "af_rest_offset_pct", "warranty_days", "parts_cost"):
            yield by_name["jobs", name], NumberReader(by_name["jobs", name], decimal=decimal, scale=1.0)
    column = by_name["usage_readings", "read_on"]
    yield column, DateReader(column, order=lambda: Order.DAY_FIRST, has_serials=lambda: False, today=TODAY)


NUMBERS = st.one_of(
    st.from_regex(r"\A[+-]?\d{0,3}[.,]?\d{0,4}[.,]?\d{0,2}\Z"),
    st.sampled_from(
        ["", " ", "NA", "12", "12.0", "1,250", "9999", "-1", "inf", "nan", "1e3", "1e999", "7 %", "0x1F", "1_000", "140"]
    ),
    st.sampled_from(
        ["2026-01-05", "2026-01-05 10:00", "2026-01-05T10:00:30", "1980-01-01", "2026-12-01 00:00", "05/01/2026", "x"]
    ),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(NUMBERS, min_size=1, max_size=6))
def test_reading_a_column_at_once_is_reading_its_cells_one_by_one(texts):
    import pyarrow as pa

    for column, reader in _readers():
        read = ColumnReader(column, reader).read(pa.array(texts, pa.string()))
        bad = read.is_bad if read.is_bad is not None else [False] * len(texts)
        for text, value, is_bad in zip(texts, read.values.to_pylist(), bad, strict=True):
            said = reader.of(text)
            assert bool(is_bad) == isinstance(said, Refusal), (column.name, text)
            assert value == (None if isinstance(said, Refusal) else said), (column.name, text)


@pytest.mark.parametrize(
    "text",
    [
        '"; DROP TABLE job; --",unit_id\n1,2\n', ",,,,\n,,,\n", "\n\n\n", "a" * 5000 + "\n",
        '"' * 999 + "\n", ",".join(["x"] * 10_000) + "\n",
        HEADER + "," + HEADER + "\n", HEADER.replace("unit_id", " ") + "\n1,2,3,4,5,6,7\n",
    ],
)  # fmt: skip
def test_headings_of_every_shape_are_refused_in_words(text):
    report = checked(text.encode())
    assert (len(report.refused), report.sheets) == (1, ())


def test_headings_alone_are_a_table_without_rows():
    (sheet,) = checked(HEADER.encode()).sheets
    assert (sheet.lines_read, sheet.loaded, sheet.not_data) == (1, 0, 1)


def test_very_long_cells_and_control_letters_stay_cells():
    (sheet,) = checked(
        csv_of(job(note="x" * 200_000), job(note="\x1b[31m\x07"), job(unit_id="'; DROP TABLE job;--")).encode()
    ).sheets
    assert sheet.loaded == 3


def test_a_very_long_quoted_cell_costs_its_own_line_only():
    (sheet,) = checked(csv_of(job(note='"' + "x" * 200_000 + '\n"'), job()).encode()).sheets
    assert accounted(sheet)
    assert sheet.loaded == 1


def test_ten_thousand_columns_that_no_one_knows_are_left_out():
    wide = {f"extra {number}": "1" for number in range(10_000)}
    (sheet,) = checked(csv_of(job(**wide), job(**wide)).encode()).sheets
    assert (sheet.loaded, len(sheet.not_understood)) == (2, 10_000)
