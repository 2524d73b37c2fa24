"""Read what happened to the shop's own controllers in stretches of the calendar: watched time, faults, work and stops."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection

_EPOCH = dt.date(1970, 1, 1)


class Periods:
    """Periods of whole days, each from its first day on up to the day before its end.

    The own controllers of a log are the registered ones (all,
    without a register) that were not sold by its end. What happens on a
    day happens at its end, so that a period is (the day before its first, its last], in days since 1970-01-01.
    """

    def __init__(self, connection: Connection, days: Sequence[tuple[dt.date, dt.date]]) -> None:
        """days: the first and the last day of each period."""
        self._connection = connection
        self._days = {"begins": [_day(first) - 1.0 for first, _ in days], "ends": [float(_day(last)) for _, last in days]}
        connection.execute(sql_text("macros"))
        connection.execute(sql_text("tables", "action_kind"))
        connection.execute(sql_text("questions", "own_slot"))
        connection.execute(sql_text("questions", "own_spell"))
        connection.execute(sql_text("questions", "period_stretch"), self._days)

    def watches(self) -> pd.DataFrame:
        """Return one row per controller, period and stretch in which one of its sticks was in service and good: unit_no, unit_id,
        site, family, period_no, from_day, to_day, metered_days (null: none), from_h,
        to_h: its play hours at both ends of the metered part.
        """
        return self._read("period_watch")

    def faults(self) -> pd.DataFrame:
        """Return one row per fault inside those stretches: unit_no, period_no, from_day (of the stretch), at_day, at_h (null
        outside the metered part)."""
        return self._read("period_fault")

    def work(self) -> pd.DataFrame:
        """Return one row per controller and period with jobs: unit_no, site, period_no, job_count, module_count (fitted),
        timed_count, minutes, costed_count (fitted at a known price), parts_cost (with supplies).
        """
        return self._read("period_work", self._days)

    def stops(self) -> pd.DataFrame:
        """Return one row per site, period and is_stick: stop_count, hours, hours_squared, priced_hours, takings,
        takings_squared, open_count (seats without an end on record since an earlier month, whose hours are not in)."""
        return self._read("period_stop", self._days)

    def has_downtime(self) -> bool:
        """Tell whether the log holds stops at all."""
        return bool(self._connection.execute("SELECT EXISTS (SELECT 1 FROM downtime)").fetchall()[0][0])

    def _read(self, question: str, parameters: dict[str, list[float]] | None = None) -> pd.DataFrame:
        return self._connection.execute(sql_text("questions", question), parameters).df()


def _day(day: dt.date) -> int:
    return (day - _EPOCH).days
