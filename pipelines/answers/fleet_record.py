"""What the log says of the shop's own controllers, read once and asked often: laws, sticks in service, work and parts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.facts.own_fleet import OwnFleet
from pipelines.facts.read import Connection, rebuilt, standing, window
from pipelines.settings import Settings

#: Play hours are not used where more spells than this lack them.
HOURS_MISSING_AT_MOST = 0.2
#: Chances and forecasts are tried on the last days of the log, as of the day before them.
HELD_OUT_DAYS = 91
#: Above this many rows times are rounded to about a two-thousandth of the longest.
EXACT_UP_TO, STEPS = 20_000, 2000


@dataclass(frozen=True)
class FleetRecord:
    """The own fleet at the end of a log. watched: of the histories up to the quiet lag; the rest to the end.

    Frames as in `OwnFleet`. is_hours: whether play hours are used at all. turnaround_days, season: None where not known.
    """

    log_start: str | None
    log_end: str | None
    notice_days: float
    is_hours: bool
    watched: pd.DataFrame
    sticks: pd.DataFrame
    repairs: pd.DataFrame
    jobs: pd.DataFrame
    part_use: pd.DataFrame
    part_stock: pd.DataFrame
    turnaround_jobs: int
    turnaround_days: float | None
    season: float | None


@dataclass(frozen=True)
class HeldOut:
    """The record as it stood HELD_OUT_DAYS before the end, and the faults found since: `faults` as in `OwnFleet.faults`."""

    record: FleetRecord
    faults: pd.DataFrame


def fleet_record(connection: Connection, settings: Settings) -> FleetRecord:
    """Read the record at the end of the log.

    What is in service, and work and parts, are read to the last day; laws leave the quiet lag out, as every answer does.
    """
    log, fleet = window(connection), OwnFleet(connection)
    # (the sticks that were at the bench in the quiet lag are in service again)
    now = fleet if not settings.quiet_lag_days else OwnFleet(rebuilt(connection, replace(settings, quiet_lag_days=0)))
    is_hours = fleet.hours_missing() <= HOURS_MISSING_AT_MOST
    jobs, days = now.turnaround()
    return FleetRecord(
        log_start=log.log_start, log_end=log.log_end, notice_days=settings.notice_days, is_hours=is_hours,
        watched=_rounded(fleet.watched()),
        sticks=now.sticks(), repairs=fleet.repairs(), jobs=now.jobs(), part_use=now.part_use(), part_stock=now.part_stock(),
        turnaround_jobs=jobs, turnaround_days=days, season=now.season(),
    )  # fmt: skip


def held_out(connection: Connection, settings: Settings) -> HeldOut | None:
    """Return the record HELD_OUT_DAYS before the end of the log, and what came since; None where it had not begun then."""
    log = window(connection)
    if log.log_end is None or log.log_start is None:
        return None
    last, first = (dt.date.fromisoformat(one) for one in (log.log_end, log.log_start))
    then = last - dt.timedelta(days=HELD_OUT_DAYS)
    if then <= first:
        return None
    before, whole = replace(settings, log_end=then), replace(settings, quiet_lag_days=0)
    record = fleet_record(standing(connection, before), before)
    return HeldOut(record, OwnFleet(standing(connection, whole)).faults(since_days=HELD_OUT_DAYS))


def _rounded(watched: pd.DataFrame) -> pd.DataFrame:
    """Return the spells with their ages rounded to steps where there are very many, so that the laws see a few counts."""
    if len(watched) <= EXACT_UP_TO:
        return watched
    found = watched.copy()
    for clock in ("h", "days"):
        step = float(found[f"lower_{clock}"].max()) / STEPS
        entry = np.floor(found[f"entry_{clock}"] / step) * step
        is_failure = found["is_failure"].astype(bool)
        lower = (found[f"lower_{clock}"] / step).round() * step
        found[f"entry_{clock}"] = entry
        # (a spell keeps a length of at least one step)
        found[f"lower_{clock}"] = np.maximum(lower, entry).where(is_failure, np.maximum(lower, entry + step))
        found[f"upper_{clock}"] = np.maximum((found[f"upper_{clock}"] / step).round() * step, entry + step)
    return found
