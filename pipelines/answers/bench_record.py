"""What the log says of cleaning single sticks, read once and asked often."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial

import pandas as pd

from pipelines.answers.bench_case import DEPTHS
from pipelines.answers.lot_gathering import Gathering
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.question import LEVEL
from pipelines.answers.spells import grid_for
from pipelines.estimates.hold_after_pass import Holds, PartHolds, hold_after_pass, part_hold
from pipelines.estimates.reliability import Reliability, out_of_sample
from pipelines.estimates.triage import Triage, triage
from pipelines.facts.read import Attempts, Connection
from pipelines.facts.readings import attempt_readings, bench_work, part_holds
from pipelines.logs.aliases import Aliases, stored
from pipelines.settings import Settings


@dataclass(frozen=True)
class BenchRecord:
    """attempts, work: frames of `pipelines.facts.readings`; triage: what they say of passing; held: what the log says of holding,
    by days: of cleans that passed, and of new parts.

    warranty_days: for which a repair has to hold. is_warranty_usual: neither settings nor sales give a warranty, the setting
    `horizon` stands for it. lots: for prices, sales and the log's window; families: all that have bench work; aliases: the
    user's other words.
    """

    lots: LotRecord
    attempts: pd.DataFrame
    work: pd.DataFrame
    triage: Triage
    held: Callable[[float], tuple[Holds, PartHolds]]
    warranty_days: float
    is_warranty_usual: bool
    families: list[str]
    aliases: Aliases
    level: float

    @property
    def holds(self) -> Holds | None:
        """What cleans that passed hold over the warranty; None without one, as nothing then has to hold."""
        return self.held(self.warranty_days)[0] if self.warranty_days else None

    @property
    def part_holds(self) -> PartHolds | None:
        """The same of new parts."""
        return self.held(self.warranty_days)[1] if self.warranty_days else None

    def under(self, settings: Settings) -> BenchRecord:
        """Return the record with the warranty of these settings; what the log says of it is worked out once for each warranty."""
        days, is_usual = _warranty(self.lots, settings)
        return self if days == self.warranty_days else replace(self, warranty_days=days, is_warranty_usual=is_usual)

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
    days, is_usual = _warranty(lots, settings)
    attempts, work = attempt_readings(connection), bench_work(connection)
    return BenchRecord(
        lots=lots, attempts=attempts, work=work, triage=triage(attempts), held=_held_of(connection, settings, level),
        warranty_days=days, is_warranty_usual=is_usual,
        families=sorted({*work["family"].dropna(), *attempts["family"].dropna()}), aliases=stored(connection), level=level,
    )  # fmt: skip


def _warranty(lots: LotRecord, settings: Settings) -> tuple[float, bool]:
    """Return the days for which a repair has to hold, and whether the setting `horizon` stands for them."""
    given = Gathering(lots, [], settings).warranty_days
    return (settings.horizon, True) if given is None else (float(given), False)


def _held_of(connection: Connection, settings: Settings, level: float) -> Callable[[float], tuple[Holds, PartHolds]]:
    """Read how long cleans and new parts held; what that says of a number of days is worked out when first asked for."""
    cleans = Attempts(connection, by=("family", "attempt_number"), where={})
    grid = grid_for(settings, *cleans.size())
    return cache(partial(_held, cleans.counts(is_hours=False, grid=grid), part_holds(connection, grid=grid), level))


def _held(cleans: pd.DataFrame, parts: pd.DataFrame, level: float, days: float) -> tuple[Holds, PartHolds]:
    return hold_after_pass(cleans, horizon=days, level=level), part_hold(parts, horizon=days, level=level)
