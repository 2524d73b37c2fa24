"""Numbers as people type them."""

import pytest

from pipelines.contract import columns_of
from pipelines.logs.numbers import NumberReader, decimal_shown
from pipelines.logs.refusal import Refusal


def read(text: str, name: str = "usage_hours", *, table: str = "jobs", decimal: str = ".", scale: float = 1.0):
    column = next(column for column in columns_of(table) if column.name == name)
    return NumberReader(column, decimal=decimal, scale=scale).of(text)


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("7.5", ".", 7.5), ("7,5", ".", 7.5), ("7.5", ",", 7.5), ("7,5", ",", 7.5), ("0.125", ",", 0.125),
        ("1,250", ".", 1250), ("1,250", ",", 1.25), ("1.250", ",", 1250), ("1.250", ".", 1.25),
        ("1,250.5", ",", 1250.5), ("1.250,5", ".", 1250.5), ("1 250,5", ".", 1250.5), ("1'250.5", ".", 1250.5),
        ("1,250,000", ",", 1_250_000), (" 12 ", ".", 12), (".5", ".", 0.5), ("1e3", ".", 1000), ("+4", ".", 4),
    ],
)  # fmt: skip
def test_decimal_and_thousands_marks_are_read(text, decimal, value):
    assert read(text, decimal=decimal) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "hours"),
    [("1:30", 1.5), ("90m", 1.5), ("2h", 2), ("1h 30m", 1.5), ("12 h", 12), ("1,5 h", 1.5), ("312:15:00", 312.25)],
)
def test_hours_may_be_written_as_a_time(text, hours):
    assert read(text) == pytest.approx(hours)


@pytest.mark.parametrize(("text", "minutes"), [("25", 25), ("25 min", 25), ("1:30", 90), ("2h", 120), ("0.5 hours", 30)])
def test_minutes_may_be_written_as_a_time(text, minutes):
    assert read(text, "bench_minutes") == pytest.approx(minutes)


@pytest.mark.parametrize(("text", "value"), [("€ 12,50", 12.5), ("12.50 EUR", 12.5), ("$1,250.00", 1250), ("£3", 3)])
def test_money_may_carry_its_sign(text, value):
    assert read(text, "parts_cost") == pytest.approx(value)


def test_a_percent_sign_behind_a_reading_is_a_unit():
    assert read("7.5 %", "af_rest_offset_pct") == 7.5


def test_a_scale_turns_shares_into_percent():
    assert read("0.075", "af_rest_offset_pct", scale=100) == pytest.approx(7.5)


@pytest.mark.parametrize("text", ["", "NA", "-", "?", "n/a", "–", "null"])
def test_what_says_nothing_is_blank(text):
    assert read(text) is None


def test_9999_is_no_reading_but_may_be_a_number_of_hours():
    assert read("9999", "af_rest_offset_pct") is None
    assert read("9999", "af_jitter_pct") is None
    assert read("9999", "usage_hours") == 9999


@pytest.mark.parametrize(
    ("text", "name"),
    [("nan", "x"), ("inf", "usage_hours"), ("-inf", "usage_hours"), ("1d7", "usage_hours"), ("12 apples", "usage_hours"),
     ("0x1F", "usage_hours"), ("1e400", "usage_hours"), ("12,34,56", "usage_hours"), ("-3", "usage_hours"),
     ("140", "af_rest_offset_pct"), ("2458", "af_reach_pct"), ("12.5", "warranty_days"), ("Infinity", "parts_cost")],
)  # fmt: skip
def test_what_is_no_such_number_is_refused(text, name):
    if name == "x":
        assert read(text) is None
    else:
        assert isinstance(read(text, name), Refusal)


def test_a_whole_number_may_have_a_point():
    assert read("12.0", "warranty_days") == 12
    assert isinstance(read("12.0", "warranty_days"), int)


@pytest.mark.parametrize(
    ("text", "mark"),
    [("7.5", "."), ("7,5", ","), ("1,250", None), ("1.250", None), ("12", None), ("1,250,000", "."), ("1.250,5", ","),
     ("€ 3,20", ","), ("1,250.75 h", "."), ("x", None)],
)  # fmt: skip
def test_a_cell_proves_its_decimal_mark_or_nothing(text, mark):
    assert decimal_shown(text) == mark
