"""Small logs of supplier batches, text tables for `Log`: who was fitted when, and when it failed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path

from tests.answers.logs import Log

BEGIN, END = dt.date(2025, 1, 1), dt.date(2025, 12, 31)
_HEAD = "job_id unit_id received_on stick family action outcome part_batch_fitted part_batch_found visit_reason finding"


class Bench:
    """Writes the jobs that fit modules on the first day of the log and find some of them failed."""

    def __init__(self) -> None:
        self.jobs: list[str] = []
        self.units: list[str] = []

    def fit(self, batch: str, *, good: int = 0, failed: Iterable[int] = (), site: str = "north", family: str = "Nolm") -> Bench:
        """Fit modules of a batch into controllers of their own: `good` that hold, and one for each day it failed after."""
        for after in (*[None] * good, *failed):
            unit = self._unit(site, family)
            self._job(unit, BEGIN + dt.timedelta(days=10), family, f"replace_module pass {batch} - fault_report fault_confirmed")
            if after is not None:
                day = BEGIN + dt.timedelta(days=10 + after)
                self._job(unit, day, family, f"clean_open pass - {batch} fault_report fault_confirmed")
        return self

    def find(self, batch: str, count: int, *, site: str = "north") -> Bench:
        """Let controllers come in with modules of a batch of which no fitting is on record."""
        for number in range(count):
            unit = self._unit(site, "Nolm")
            day = BEGIN + dt.timedelta(days=100 + number)
            self._job(unit, day, "Nolm", f"clean_open pass - {batch} fault_report fault_confirmed")
        return self

    def log(self, folder: Path, deliveries: str = "") -> Log:
        """Load the log; deliveries: rows of `batch supplier received_on qty mixed_flag`."""
        self._job(self._unit("north", "Nolm"), END, "Nolm", "test_only pass - - check no_fault_found")
        tables = {
            "jobs": "\n".join([_HEAD, *self.jobs]),
            "units": "\n".join(["unit_id family sticks in_service_on new_or_used site_id usage_class", *self.units]),
        }
        if deliveries:
            rows = [line.split() for line in deliveries.strip().splitlines()]
            head = "batch_id supplier part_type received_on qty unit_cost mixed_flag"
            tables["part_batches"] = "\n".join([head, *(f"{a} {b} module {c} {d} 3 {e}" for a, b, c, d, e in rows)])
        return Log(folder, **tables)

    def _unit(self, site: str, family: str) -> str:
        self.units.append(f"U{len(self.units):03d} {family} S {BEGIN} new {site} normal")
        return self.units[-1].split()[0]

    def _job(self, unit: str, day: dt.date, family: str, rest: str) -> None:
        self.jobs.append(f"J{len(self.jobs)} {unit} {day} S {family} {rest}")
