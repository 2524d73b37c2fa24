"""What the log says of places and their faults, compared once and asked often."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from pipelines.answers.clock import HourCheck, check_hours
from pipelines.answers.question import LEVEL
from pipelines.estimates.counts import group
from pipelines.estimates.durable import durable
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.expected_faults import expected_faults
from pipelines.estimates.place_rates import PlaceRates, place_rates
from pipelines.estimates.unit_factors import UnitFactors
from pipelines.facts.money import currencies, one_currency
from pipelines.facts.read import Connection, window
from pipelines.facts.seats import Seats
from pipelines.vocabulary import Clock

#: A repaired stick whose next fault is found within so many days came back.
BACK_DAYS = 30
#: What each kind of place is adjusted for: how families, sites and kinds of work are mixed there.
ADJUSTED = {
    "station": ("family", "site"), "site": ("family",), "stick": ("family", "site"), "technician": ("family", "site", "work"),
}  # fmt: skip


@dataclass(frozen=True)
class Backs:
    """Of one technician: jobs that put a faulty stick right, and the share that came back within BACK_DAYS."""

    jobs: int
    share: Estimate


@dataclass(frozen=True)
class SeatRecord:
    """rates: by kind of place; unplaced: faults of which it is not known; backs: by technician; units: one row a controller with
    faults expected: unit, family, site, is_in_service, failures, expected, faults_per_week (expected, while it serves); factors:
    of `units`, in their order."""

    log_start: str | None
    log_end: str | None
    currency: str | None
    clock: Clock
    hours: HourCheck
    stays: int
    overlapping: int
    untold_spells: int
    rates: dict[str, PlaceRates]
    unplaced: dict[str, int]
    backs: dict[str, Backs]
    units: pd.DataFrame
    factors: UnitFactors
    level: float


def seat_record(connection: Connection, *, level: float = LEVEL) -> SeatRecord:
    """Read and compare. Play hours are used unless too many spells lack them. Raises InputError on several currencies."""
    log, seats = window(connection), Seats(connection)
    hours = check_hours(seats.clocks())
    clock = Clock.DAYS if hours.is_refused else Clock.HOURS
    counts = seats.exposures(is_hours=clock is Clock.HOURS)
    jobs = seats.passed_jobs(horizon_days=BACK_DAYS)
    jobs = jobs.assign(exposure=jobs["days"] * jobs["job_count"], failure_count=jobs["is_back"] * jobs["job_count"])
    # on the day clock heavy use must not pass for a bad place
    more = ("usage_class",) if clock is Clock.DAYS else ()
    found = {
        what: place_rates(jobs, place=what, adjust=adjust, level=level) if what == "technician"
        else place_rates(counts, place=what, adjust=(*adjust, *more), level=level)
        for what, adjust in ADJUSTED.items()
    }  # fmt: skip
    unplaced = {
        what: int(frame.loc[frame[what].isna(), "failure_count"].sum())
        for what in ADJUSTED for frame in [jobs if what == "technician" else counts]
    }  # fmt: skip
    units = _units(counts, more)
    stays, overlapping = seats.stays()
    return SeatRecord(
        log.log_start, log.log_end, one_currency(currencies(connection)), clock, hours, stays, overlapping,
        int(counts["untold_spell_count"].sum()), found, unplaced, _backs(jobs, level), units,
        UnitFactors(units["failures"].to_numpy(float), units["expected"].to_numpy(float)), level,
    )  # fmt: skip


def _units(counts: pd.DataFrame, more: tuple[str, ...]) -> pd.DataFrame:
    """Return one row a controller, whatever seats it served."""
    exposure, failures = counts["exposure"].to_numpy(float), counts["failure_count"].to_numpy()
    due, _ = expected_faults(counts, exposure, failures, by=("family", "site", *more))
    rows = counts.assign(due=due)
    code = group([rows], by=["unit"]).codes[0]
    found = rows.groupby(code).agg(
        unit=("unit", "first"), family=("family", "first"), site=("site", "first"), is_in_service=("is_in_service", "any"),
        failures=("failure_count", "sum"), expected=("due", "sum"), days=("days", "sum"), sticks=("stick", "nunique"),
    )  # fmt: skip
    found = found[(found["expected"] > 0) & (found["days"] > 0)].reset_index(drop=True)
    found["faults_per_week"] = 7 * found["expected"] * found["sticks"] / found["days"]
    return found


def _backs(jobs: pd.DataFrame, level: float) -> dict[str, Backs]:
    known = jobs[jobs["technician"].notna()]
    followed = pd.DataFrame({
        "technician": known["technician"], "is_passed": True, "at": known["days"], "is_failure": known["is_back"],
        "attempt_count": known["job_count"],
    })  # fmt: skip
    backs = {}
    for one in durable(followed, by=["technician"], horizon=BACK_DAYS, level=level) if len(followed) else []:
        share = Estimate.refused(one.because) if one.share is None else Estimate(1 - one.share, 1 - one.high, 1 - one.low)
        backs[str(one.by[0])] = Backs(one.attempts, share)
    return backs
