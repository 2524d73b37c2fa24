"""Faults and exposure of each own controller in each period, on the clock that the readings allow."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from pipelines.facts.periods import Periods
from pipelines.vocabulary import Clock

#: Play hours are used where at least this share of the watched days has them.
HOURS_KNOWN_AT_LEAST = 0.8
#: Rates are told for so many hours or days.
PER = 1000


@dataclass(frozen=True)
class WatchedPeriods:
    """stretches: unit_no, unit_id, site, family, period_no, entry, exit (running ages within a period), exposure; events:
    unit_no, period_no, at. In play hours or days as `clock` says.

    known_share: of the watched days with play hours; faults_left_out: faults outside the readings, on the hour clock.
    """

    clock: Clock
    stretches: pd.DataFrame
    events: pd.DataFrame
    known_share: float
    faults_left_out: int

    def by_unit(self) -> pd.DataFrame:
        """Return one row per controller and period with exposure: unit_no, unit_id, site, family, period_no, exposure, faults."""
        keys = ["unit_no", "period_no"]
        names = self.stretches.groupby(keys, sort=True)[["unit_id", "site", "family"]].first()
        found = names.assign(exposure=self.stretches.groupby(keys)["exposure"].sum())
        found["faults"] = self.events.groupby(keys).size()
        found["faults"] = found["faults"].fillna(0).astype(int)
        return found.reset_index()


def watched_periods(periods: Periods, clock: Clock | None = None) -> WatchedPeriods:
    """Read stretches and faults; clock: None for play hours where enough of the watched days have them."""
    stretches, faults = periods.watches(), periods.faults()
    days = stretches["to_day"] - stretches["from_day"]
    known = float(stretches["metered_days"].fillna(0).sum() / days.sum()) if len(stretches) else 1.0
    if clock is None:
        clock = Clock.HOURS if known >= HOURS_KNOWN_AT_LEAST else Clock.DAYS
    is_hours = clock is Clock.HOURS
    begins, ends = ("from_h", "to_h") if is_hours else ("from_day", "to_day")
    origin = stretches.groupby(["unit_no", "period_no"])[begins].transform("min")
    origin = origin if is_hours else stretches.groupby("period_no")[begins].transform("min")
    stretches = stretches.assign(
        entry=(stretches[begins] - origin).round(6), exit=(stretches[ends] - origin).round(6), origin=origin
    )
    stretches = stretches[stretches["exit"] > stretches["entry"]]
    keys = ["unit_no", "period_no", "from_day"]
    events = faults.merge(stretches[[*keys, "entry", "exit", "origin"]], on=keys)
    events = events.assign(at=(events["at_h" if is_hours else "at_day"] - events["origin"]).round(6))
    events = events[(events["at"] > events["entry"]) & (events["at"] <= events["exit"])]
    kept = ["unit_no", "unit_id", "site", "family", "period_no", "entry", "exit"]
    return WatchedPeriods(
        clock, stretches[kept].assign(exposure=stretches["exit"] - stretches["entry"]), events[["unit_no", "period_no", "at"]],
        known, len(faults) - len(events),
    )  # fmt: skip
