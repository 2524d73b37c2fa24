"""Write a published data set as the job log a shop would have exported, load it and answer from it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.load import load
from pipelines.settings import Settings

START = dt.date(1995, 1, 2)
#: Faults are dated at their visits and nothing is cut at the end, as in the published sets.
EXACT = Settings(notice_days=0, quiet_lag_days=0)
UNITS = "unit_id family sticks in_service_on new_or_used"
JOBS = "job_id unit_id stick family received_on visit_reason finding action outcome usage_hours usage_basis"
DAY_UNITS = "unit_id family sticks in_service_on new_or_used out_of_service_on out_reason"
DAY_JOBS = "job_id unit_id stick family received_on visit_reason finding action outcome"
CLEANS = "job_id unit_id stick family received_on visit_reason finding action outcome"


def write_job_log(
    spells: pd.DataFrame, folder: Path, *, group: str | None = None, scale: int = 1, as_parquet: bool = False
) -> Path:
    """Write a register `units` and a list of `jobs` with metered hours into `folder` and return it.

    spells: one row per unit: `entry`, `lower`, `upper` in play hours (lower == upper: failed then; upper infinite: well
    at `lower`; else failed between two visits), optionally `spell_count`, and `group`, a column that becomes the family.
    One unit is one stick. It is registered as new, or as used where it is first seen at `entry`. `scale` stretches
    hours and days alike.
    """
    units, jobs = [], []
    spread = _hours_per_day(spells)
    for number, spell in enumerate(_one_each(spells).itertuples(index=False)):
        unit, family = f"U{number:05d}", str(getattr(spell, group)) if group else "Testfam"
        units.append((unit, family, "S", START, "new" if spell.entry == 0 else "used"))
        for hours, reason, finding in _visits(spell.entry, spell.lower, spell.upper):
            on = START + dt.timedelta(days=math.ceil(hours / spread) * scale)
            outcome = "pass" if finding == "no_fault_found" else "fail"
            jobs.append((f"J{len(jobs)}", unit, "S", family, on, reason, finding, "test_only", outcome,
                         hours * scale, "metered"))  # fmt: skip
    return _write(folder, as_parquet, units=(UNITS, units), jobs=(JOBS, jobs))


def write_day_log(spells: pd.DataFrame, folder: Path, *, watched_from: dt.date | None = None) -> Path:
    """Write the same with times in whole days and no meter: a fault report on the last day, or stored that day.

    Without `watched_from` every unit is new on START; with it, a unit was new `entry` days before `watched_from`.
    """
    units, jobs = [], []
    for number, spell in enumerate(_one_each(spells).itertuples(index=False)):
        unit = f"U{number:05d}"
        began = watched_from - dt.timedelta(days=int(spell.entry)) if watched_from else START
        last = began + dt.timedelta(days=int(spell.lower))
        if math.isfinite(spell.upper):
            jobs.append((f"J{len(jobs)}", unit, "S", "Testfam", last, "fault_report", "fault_confirmed", "test_only", "fail"))
            units.append((unit, "Testfam", "S", began, "new", None, None))
        else:
            units.append((unit, "Testfam", "S", began, "new", last, "stored"))
    return _write(folder, False, units=(DAY_UNITS, units), jobs=(DAY_JOBS, jobs))


def write_gap_log(gaps: pd.DataFrame, folder: Path) -> Path:
    """Write module lives of two sticks a controller, in whole days from START: every gap but the last ends in a clean.

    gaps: `cluster`, `module`, `depth` of the clean that opened the gap, `lower`, `upper` in days; in order; optionally
    `failed_by`, the mechanism of the failure that ended it, blank or not_recorded where there is none.
    """
    cause = gaps.get("failed_by", pd.Series(None, index=gaps.index, dtype=object)).replace("not_recorded", None)
    gaps = gaps.assign(cause=cause)
    units, jobs = [], []
    for controller, mine in gaps.groupby("cluster"):
        unit = f"U{controller:04d}"
        for stick, (_, module) in zip("LR", mine.groupby("module"), strict=True):
            cleaned_on = [START + dt.timedelta(days=int(day)) for day in module["lower"].cumsum()]
            ends = zip(cleaned_on, module["upper"], module["cause"], module["depth"].iloc[1:], strict=False)
            for on, upper, mechanism, depth in ends:
                found = ("fault_report", "fault_confirmed") if math.isfinite(upper) else ("preventive", "no_fault_found")
                jobs.append((f"J{len(jobs)}", unit, stick, "Testfam", on, *found, f"clean_{depth}", "pass", mechanism))
        units.append((unit, "Testfam", "L+R", START, "new", cleaned_on[-1], "stored"))
    return _write(folder, False, units=(DAY_UNITS, units), jobs=(f"{DAY_JOBS} failure_mechanism", jobs))


def write_cleans(shares: Sequence[tuple[int, int]], folder: Path) -> Path:
    """Write for each (k, n) a family of n sticks found bad and cleaned once, of which k passed."""
    jobs = [
        (f"J{family}-{stick}", f"U{family}-{stick}", "S", f"{k}/{n}", START + dt.timedelta(days=stick), "fault_report",
         "fault_confirmed", "clean_flush", "pass" if stick < k else "fail")
        for family, (k, n) in enumerate(shares)
        for stick in range(n)
    ]  # fmt: skip
    return _write(folder, False, jobs=(CLEANS, jobs))


def answered(folder: Path, question: str = "time-to-failure", *, settings: Settings = EXACT, **words: object) -> dict:
    """Load what stands in `folder` into a new warehouse beside it and return the answer as its JSON holds it."""
    house = folder.with_name(f"{folder.name} warehouse")
    if not warehouse.exists(house):
        report = load([folder], warehouse=house, settings=settings)
        assert report.total("set_aside") == 0
    with warehouse.reading(house) as connection:
        return ask(question, connection, settings=settings, **words).to_dict()


def _one_each(spells: pd.DataFrame) -> pd.DataFrame:
    return spells.loc[spells.index.repeat(spells["spell_count"])] if "spell_count" in spells else spells


def _hours_per_day(spells: pd.DataFrame) -> float:
    """Return the most hours a day that the calendar holds and that puts no two visits of a unit on one day."""
    ages = spells[["entry", "lower", "upper"]].to_numpy()
    gaps = np.diff(ages, axis=1)
    return float(min(24.0, gaps[(gaps > 0) & np.isfinite(gaps) & (ages[:, :-1] > 0)].min(initial=24.0)))


def _visits(entry: float, lower: float, upper: float) -> list[tuple[float, str, str]]:
    visits = [(entry, "check", "no_fault_found")] if entry > 0 else []
    if lower == upper:
        return [*visits, (lower, "fault_report", "fault_confirmed")]
    if lower > entry:
        visits.append((lower, "check", "no_fault_found"))
    if math.isfinite(upper):
        visits.append((upper, "check", "fault_confirmed"))
    return visits


def _write(folder: Path, as_parquet: bool, **tables: tuple[str, list[tuple]]) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, (columns, rows) in tables.items():
        frame = pd.DataFrame(rows, columns=columns.split())
        if as_parquet:
            frame.to_parquet(folder / f"{name}.parquet", index=False)
        else:
            frame.to_csv(folder / f"{name}.csv", index=False)
    return folder
