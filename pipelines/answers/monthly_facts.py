"""What the log says of a month and of those before it, read once for each load: faults, work, stops and prices."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

import pandas as pd

from pipelines.answers.before_after import last_day
from pipelines.answers.question import Asked
from pipelines.answers.watched_periods import watched_periods
from pipelines.errors import SettingError
from pipelines.facts.money import currencies, one_currency, prices
from pipelines.facts.periods import Periods
from pipelines.facts.read import Connection, window
from pipelines.vocabulary import Clock

#: The year before a month.
MONTHS_BEFORE = 12


@dataclass(frozen=True)
class MonthFacts:
    """months: first days, the one asked for last; period_no in the frames is the place among them.

    watched: unit_no, site, period_no, exposure, faults; work: of `Periods.work`; stops: of `Periods.stops`, None without a
    downtime table; prices: as of the end of the month; known_share: of the watched days with play hours.
    """

    log_start: str
    log_end: str
    months: list[dt.date]
    clock: Clock
    known_share: float
    watched: pd.DataFrame
    work: pd.DataFrame
    stops: pd.DataFrame | None
    prices: pd.DataFrame
    currency: str | None


def month_facts(connection: Connection, asked: Asked) -> MonthFacts:
    """Read the month asked for and up to MONTHS_BEFORE whole ones before it. Raises SettingError on a month that is not whole,
    and InputError on several currencies.
    """
    log = window(connection)
    if log.log_start is None or log.log_end is None:
        raise SettingError("The log holds no day.", "Load jobs first.")
    month = _month(asked, dt.date.fromisoformat(log.log_start), last_day(log.log_end, asked.settings), log.log_end)
    months = [month]
    while len(months) <= MONTHS_BEFORE and _previous(months[0]) >= dt.date.fromisoformat(log.log_start):
        months.insert(0, _previous(months[0]))
    periods = Periods(connection, [(one, _last(one)) for one in months])
    found = watched_periods(periods)
    return MonthFacts(
        log_start=log.log_start, log_end=log.log_end, months=months, clock=found.clock, known_share=found.known_share,
        watched=found.by_unit(), work=periods.work(), stops=periods.stops() if periods.has_downtime() else None,
        prices=prices(connection, _last(month)), currency=one_currency(currencies(connection)),
    )  # fmt: skip


def _month(asked: Asked, first: dt.date, last: dt.date, log_end: str) -> dt.date:
    """Return the first day of the month asked for, or of the last whole one. Raises SettingError."""
    latest = _previous((last + dt.timedelta(days=1)).replace(day=1))
    earliest = first if first.day == 1 else _next(first.replace(day=1))
    if latest < earliest:
        raise SettingError(f"No month of the log is whole: its faults are in from {first} to {last}.", "Load more of the log.")
    if "month" not in asked.case:
        return latest
    word = asked.case["month"]
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", word):
        raise SettingError(f"'{word}' is no month.", f"Write it as {latest:%Y-%m}.")
    month = dt.date.fromisoformat(f"{word}-01")
    if not earliest <= month <= latest:
        lag = asked.settings.quiet_lag_days
        late = f" The log ends on {log_end}, and faults of its last {lag} days are not all in." if month > latest and lag else ""
        raise SettingError(
            f"The record does not hold the whole of {word}.{late}", f"Give a month from {earliest:%Y-%m} to {latest:%Y-%m}."
        )
    return month


def _previous(month: dt.date) -> dt.date:
    return (month.replace(day=1) - dt.timedelta(days=1)).replace(day=1)


def _next(month: dt.date) -> dt.date:
    return (month.replace(day=28) + dt.timedelta(days=4)).replace(day=1)


def _last(month: dt.date) -> dt.date:
    return _next(month) - dt.timedelta(days=1)
