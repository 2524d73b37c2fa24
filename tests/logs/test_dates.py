"""Dates as people type them."""

import datetime as dt

import pytest

from pipelines.contract import columns_of
from pipelines.logs.dates import DateReader, Order, ambiguous, shown_by
from pipelines.logs.refusal import Refusal

TODAY = dt.date(2026, 6, 30)


def column(name: str, table: str = "jobs"):
    return next(column for column in columns_of(table) if column.name == name)


def read(text: str, order: Order = Order.DAY_FIRST, *, serials: bool = False, name: str = "received_on", table: str = "jobs"):
    return DateReader(column(name, table), order=lambda: order, has_serials=lambda: serials, today=TODAY).of(text)


@pytest.mark.parametrize(
    "text",
    [
        "2026-04-03", "2026/4/3", "20260403", "2026-04-03 14:22", "2026-04-03T14:22:05.25Z", "2026-04-03T14:22+02:00",
        "03/04/2026", "3.4.2026", "03.04.26", "3-4-26", "3 Apr 2026", "3-Apr-26", "03 April 2026", "Apr 3, 2026",
        "3rd April 2026", "Fri 3 Apr 2026", "03/04/2026 2:22 PM",
    ],
)  # fmt: skip
def test_a_day_may_be_written_in_many_ways(text):
    assert read(text) == dt.date(2026, 4, 3)


def test_month_first_is_read_so():
    assert read("04/03/2026", Order.MONTH_FIRST) == dt.date(2026, 4, 3)


def test_points_between_always_mean_day_first():
    assert read("03.04.2026", Order.MONTH_FIRST) == dt.date(2026, 4, 3)


def test_a_spreadsheets_day_number_is_a_date_only_where_such_numbers_are():
    assert read("46115", serials=True) == dt.date(2026, 4, 3)
    assert isinstance(read("46115"), Refusal)


def test_a_time_of_day_is_kept_where_the_column_has_one():
    assert read("2026-04-03 02:22 pm", name="read_on", table="usage_readings") == dt.datetime(2026, 4, 3, 14, 22)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("31/02/2026", "there is no date '31/02/2026'"), ("2026-02-30", "there is no date '2026-02-30'"),
        ("2026-13-01", "there is no date '2026-13-01'"), ("2026-07-02", "2026-07-02 is in the future"),
        ("1989-12-31", "1989-12-31 is before 1990"), ("0026-04-03", "0026-04-03 is before 1990"),
        ("soon", "'soon' is not a date"), ("12", "'12' is not a date"), ("31/31/2026", "there is no date '31/31/2026'"),
        ("2026-04-03 25:00", "there is no date '2026-04-03 25:00'"), ("03/04-2026", "'03/04-2026' is not a date"),
    ],
)  # fmt: skip
def test_a_day_that_cannot_be_is_refused(text, reason):
    assert read(text).reason == reason


def test_tomorrow_is_a_clock_set_wrong_and_passes():
    assert read("2026-07-01") == dt.date(2026, 7, 1)


def test_a_price_may_begin_in_the_future():
    assert read("2027-01-01", name="valid_from", table="prices") == dt.date(2027, 1, 1)


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["13/04/2026", "03/04/2026"], Order.DAY_FIRST), (["04/13/2026", "03/04/2026"], Order.MONTH_FIRST),
        (["03/04/2026"], Order.UNKNOWN), (["03/03/2026"], Order.NONE_SEEN), (["2026-04-03", ""], Order.NONE_SEEN),
        (["13/04/2026", "04/13/2026"], Order.MIXED), (["13/04/2026"] * 100 + ["04/13/2026"], Order.DAY_FIRST),
        (["13.04.2026"], Order.NONE_SEEN),
    ],
)  # fmt: skip
def test_the_column_tells_day_from_month(cells, order):
    assert shown_by((cell, 1) for cell in cells).order == order


def test_in_a_column_that_mixes_both_ways_only_sure_days_are_read():
    assert read("13/04/2026", Order.MIXED) == dt.date(2026, 4, 13)
    assert read("04/13/2026", Order.MIXED) == dt.date(2026, 4, 13)
    assert "may be 3 April or 4 March" in read("03/04/2026", Order.MIXED).reason


def test_what_nothing_tells_apart_is_said_with_both_readings():
    refusal = ambiguous(column("received_on"), "03/04/2026")
    assert "may be 3 April or 4 March" in refusal.reason
    assert "day_first" in refusal.remedy
