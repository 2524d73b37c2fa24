"""What the log says of cleaning single sticks, read once and asked often."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from pipelines.answers.bench_case import DEPTHS
from pipelines.answers.lot_gathering import Gathering
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.question import LEVEL
from pipelines.answers.spells import grid_for
from pipelines.estimates.hold_after_pass import Holds, hold_after_pass
from pipelines.estimates.reliability import Reliability, out_of_sample
from pipelines.estimates.triage import Triage, triage
from pipelines.facts.read import Attempts, Connection
from pipelines.facts.readings import attempt_readings, bench_work
from pipelines.logs.aliases import Aliases, stored
from pipelines.settings import Settings


@dataclass(frozen=True)
class BenchRecord:
    """attempts, work: frames of `pipelines.facts.readings`; triage, holds: what they say of passing, and of holding for
    `warranty_days` (None: no warranty, so nothing has to hold).

    is_warranty_usual: neither settings nor sales give a warranty, the setting `horizon` stands for it. lots: for prices, sales
    and the log's window; families: all that have bench work; aliases: the user's other words.
    """

    lots: LotRecord
    attempts: pd.DataFrame
    work: pd.DataFrame
    triage: Triage
    holds: Holds | None
    warranty_days: float
    is_warranty_usual: bool
    families: list[str]
    aliases: Aliases
    level: float

    @cached_property
    def depths(self) -> list[str | None]:
        """The depths of clean on record, the lightest first; [None] where none is."""
        tried = set(self.attempts["depth"].dropna())
        return [depth for depth in DEPTHS if depth in tried] or [None]

    def alike(self, **words: object) -> tuple[int, int]:
        """Return the cleans on record that have all these words (None: any), and how many of them passed."""
        key = tuple(sorted((name, value) for name, value in words.items() if value is not None))
        if key not in self._alike:
            rows = self.attempts
            for name, value in key:
                rows = rows[rows[name] == value]
            self._alike[key] = int(rows["attempt_count"].sum()), int(rows["passed_count"].sum())
        return self._alike[key]

    @cached_property
    def _alike(self) -> dict[tuple, tuple[int, int]]:
        return {}

    @cached_property
    def reliability(self) -> Reliability:
        """The chances held against what happened, out of sample; worked out when first asked for."""
        return out_of_sample(self.attempts, level=self.level)


def bench_record(
    connection: Connection, settings: Settings, *, level: float = LEVEL, lots: LotRecord | None = None
) -> BenchRecord:  # fmt: skip
    """Read the record of cleans and fit what they say; of the settings `warranty_days`, `horizon` and `grid` count here.

    lots: read already. Raises InputError where money is in several currencies.
    """
    lots = lots or lot_record(connection)
    given = Gathering(lots, [], settings).warranty_days
    days = settings.horizon if given is None else float(given)
    attempts, work = attempt_readings(connection), bench_work(connection)
    return BenchRecord(
        lots=lots, attempts=attempts, work=work, triage=triage(attempts),
        holds=_holds(connection, settings, days, level) if days else None, warranty_days=days, is_warranty_usual=given is None,
        families=sorted({*work["family"].dropna(), *attempts["family"].dropna()}), aliases=stored(connection), level=level,
    )  # fmt: skip


def _holds(connection: Connection, settings: Settings, days: float, level: float) -> Holds:
    cleans = Attempts(connection, by=("family", "attempt_number"), where={})
    counts = cleans.counts(is_hours=False, grid=grid_for(settings, *cleans.size()))
    return hold_after_pass(counts, horizon=days, level=level)
