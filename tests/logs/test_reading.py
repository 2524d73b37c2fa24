"""Columns read at once say what their cells say one by one."""

import datetime as dt

import pyarrow as pa
import pytest

from pipelines.contract import columns_of
from pipelines.logs.dates import DateReader, Order
from pipelines.logs.reading import ColumnReader, TextReader
from pipelines.logs.refusal import Refusal

DAYS = ["2026-04-03", "2024-02-29", "1990-01-01", ""]
OTHER_DAYS = ["2026-02-30", "2027-01-01", "1989-12-31", "03.04.2026", "2026-04-03 14:22", "2026-04-03T10Z", "n/a", "NaN", "soon"]
TEXTS = ["bench 1", " bench 1 ", "1.5 E", "", "NaN", "nan", "N/A", "n.a.", "None", "NULL", "-", " – ", "(blank)"]


def column(name: str):
    return next(column for column in columns_of("jobs") if column.name == name)


def date_reader() -> DateReader:
    today = dt.date(2026, 6, 30)
    return DateReader(column("received_on"), order=lambda: Order.DAY_FIRST, has_serials=lambda: False, today=today)


def text_reader() -> TextReader:
    return TextReader(column("station_id"), {})


@pytest.mark.parametrize(
    ("name", "reader", "words"),
    [
        ("received_on", date_reader, DAYS), ("received_on", date_reader, [*DAYS, *OTHER_DAYS]),
        ("station_id", text_reader, TEXTS), ("station_id", text_reader, [*TEXTS, "1.23457E+17"]),
    ],
)  # fmt: skip
@pytest.mark.parametrize("is_dictionary", [True, False])
def test_a_column_says_what_its_cells_say(name, reader, words, is_dictionary):
    cells = [*words, *reversed(words)]
    raw = pa.array(cells, pa.string())
    read = ColumnReader(column(name), reader()).read(raw.dictionary_encode() if is_dictionary else raw)
    said = [reader().of(cell) for cell in cells]
    bad = [isinstance(one, Refusal) for one in said]
    assert read.plain().to_pylist() == [None if is_bad else one for one, is_bad in zip(said, bad, strict=True)]
    assert (read.is_bad.tolist() if read.is_bad is not None else [False] * len(cells)) == bad


def test_a_word_that_is_not_a_number_is_blank_however_it_is_written():
    raw = pa.array(["NaN", "NAN", "nan", "Nan"])
    assert ColumnReader(column("station_id"), text_reader()).read(raw).plain().to_pylist() == [None] * 4
