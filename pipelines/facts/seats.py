"""Read where the shop's own controllers served, for how long and with how many faults; and whose repairs came back."""

from __future__ import annotations

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection


class Seats:
    """The own controllers of a log (registered ones; all, without a register; none sold by its end) at the seats they served."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        connection.execute(sql_text("macros"))
        connection.execute(sql_text("tables", "action_kind"))
        for question in ("own_slot", "own_spell", "seat_spell", "seat_stay"):
            connection.execute(sql_text("questions", question))

    def clocks(self) -> pd.DataFrame:
        """Return one row per is_failure: day_count, no_hours_count, is_age_known (true), as the check of the hour clock takes."""
        return self._connection.execute(sql_text("questions", "seat_clock")).df()

    def stays(self) -> tuple[int, int]:
        """Return how many stays at seats are on record, and how many of them overlap the next of the same controller."""
        return self._connection.execute(sql_text("questions", "seat_overlap")).fetchall()[0]

    def exposures(self, *, is_hours: bool) -> pd.DataFrame:
        """Return one row per controller, stick and seat (null: not known): unit, site, family, usage_class, stick, station,
        is_in_service (at the end of the log), exposure (play hours, or days), days, failure_count, untold_spell_count,
        untold_failure_count (without usable hours, in nothing else). Grows with the number of controllers.
        """
        return self._connection.execute(sql_text("questions", "seat_exposure"), {"is_hours": is_hours}).df()

    def passed_jobs(self, *, horizon_days: int) -> pd.DataFrame:
        """Return counts of jobs that put a faulty stick right: technician, site, family, work, unit, days, is_back, job_count.

        days: followed, `horizon_days` at most; is_back: the next fault was found by then. Grows with the number of jobs.
        """
        return self._connection.execute(sql_text("questions", "passed_job"), {"horizon": horizon_days}).df()
