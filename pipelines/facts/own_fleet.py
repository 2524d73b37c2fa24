"""Read the shop's own controllers: their spells, what is in service at the end of the log, and the work and parts they take."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection


@contextmanager
def own_only(connection: Connection) -> Iterator[tuple[Connection, int]]:
    """Give a reader of the same histories for whom spells and sticks are those of own controllers alone, as `OwnFleet` counts
    them, and how many controllers that leaves out.
    """
    found_in = connection.execute("SELECT current_setting('search_path')").fetchall()[0][0]
    with connection.cursor() as reader:
        if found_in:
            reader.execute("SET search_path = $found_in", {"found_in": found_in})
        reader.execute(sql_text("questions", "own_slot"))
        left_out = reader.execute(sql_text("questions", "own_left_out")).fetchall()[0][0]
        reader.execute(sql_text("questions", "own_described"))
        reader.execute("CREATE TEMP VIEW slot AS FROM own_slot")
        yield reader, left_out


class OwnFleet:
    """The own controllers of a log: registered ones (all, without a register) that were not sold by its end.

    Days of the calendar are numbers before the end of the log, which is 0. Ages are in hours, or in days.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        connection.execute(sql_text("macros"))
        connection.execute(sql_text("tables", "action_kind"))
        connection.execute(sql_text("questions", "own_slot"))
        connection.execute(sql_text("questions", "own_spell"))

    def watched(self) -> pd.DataFrame:
        """Return one row per spell with length: unit (its id), site, family, usage_class, is_failure, entered_on, ended_on,
        has_hours, has_days, and on both clocks (_h, _days) kind, entry, lower, upper and at, null where it has no length on
        that one. kind: of `SpellKind`, or since_first_seen where the age is not known. lower and upper as in `weibull`; at:
        the midpoint where it failed. Grows with the log.
        """
        return self._read("own_watch")

    def hours_missing(self) -> float:
        """Return the share of the spells with length in days that have no usable hours; 1 without spells."""
        return self._connection.execute(sql_text("questions", "own_hours")).fetchall()[0][0]

    def faults(self, *, since_days: int) -> pd.DataFrame:
        """Return one row per fault found in the last days: unit_id, stick, site, family, found_on (days before the end)."""
        return self._read("own_fault", {"since_days": since_days})

    def sticks(self) -> pd.DataFrame:
        """Return one row per stick in service at the end of the log: unit_id, stick, family, site, usage_class,
        sensor_type, kind_days, kind_h, faults_before, since_on, hours_per_day, age_days, age_h. Null: not known.
        """
        return self._read("own_stick")

    def expected_use(self) -> pd.DataFrame:
        """Return one row per registered controller: unit_id, expected_hours_per_week (null: not said), for plans only."""
        return self._connection.execute("SELECT unit_id, expected_hours_per_week FROM unit").df()

    def season(self) -> float | None:
        """Return how much was played in the same 13 weeks a year ago as now come, against that whole year; None: not known."""
        return self._connection.execute(sql_text("questions", "own_season")).fetchall()[0][0]

    def repairs(self) -> pd.DataFrame:
        """Return one row per family and is_put_right_by_part (else by a clean or another repair): fault_count."""
        return self._read("own_repair")

    def jobs(self) -> pd.DataFrame:
        """Return one row per site, family and 13 weeks (quarter 0: the last, up to 3): other_count, fault_count."""
        return self._read("own_job")

    def part_use(self) -> pd.DataFrame:
        """Return one row per sensor_type and 13 weeks (quarter 0 to 3), of the whole shop: fitted_count, own_fault_count."""
        return self._read("part_use")

    def part_stock(self) -> pd.DataFrame:
        """Return one row per sensor_type, of the whole shop: received_count (null: none on record), fitted_count (from those
        deliveries), unrecorded_count (fitted from one that nobody wrote down).
        """
        return self._read("part_stock")

    def turnaround(self) -> tuple[int, float | None]:
        """Return how many jobs for a fault came back to service in the last 52 weeks, and after how many days on average."""
        count, days = self._connection.execute(sql_text("questions", "own_turnaround")).fetchall()[0]
        return count, days

    def _read(self, question: str, parameters: dict[str, object] | None = None) -> pd.DataFrame:
        return self._connection.execute(sql_text("questions", question), parameters).df()
