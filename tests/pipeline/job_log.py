"""Write a published lifetime data set as the job log a shop would have exported: a register and a list of jobs."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pandas as pd

START = dt.date(1995, 1, 2)


def write_job_log(spells: pd.DataFrame, folder: Path, *, hours_per_day: float = 1.0, group: str | None = None) -> Path:
    """Write `units.csv` and `jobs.csv` into `folder` and return it.

    spells: one row per unit: `entry`, `lower`, `upper` in play hours (lower == upper: failed then; upper infinite: well
    at `lower`; else failed between two visits), optionally `spell_count`, and `group`, a column that becomes the family.
    One unit is one stick. It is registered as new, or as used where it is first seen at `entry`. `hours_per_day`
    spreads the hours over the calendar; visits on one day would have one reading between them.
    """
    units, jobs = [], []
    if "spell_count" in spells:
        spells = spells.loc[spells.index.repeat(spells["spell_count"])]
    for number, spell in enumerate(spells.itertuples(index=False)):
        unit, family = f"U{number:05d}", str(getattr(spell, group)) if group else "Testfam"
        units.append((unit, family, "S", START, "new" if spell.entry == 0 else "used"))
        for hours, reason, finding in _visits(spell.entry, spell.lower, spell.upper):
            on = START + dt.timedelta(days=math.ceil(hours / hours_per_day))
            is_good = finding == "no_fault_found"
            jobs.append((f"{unit}-{len(jobs)}", unit, "S", family, on, reason, finding, "test_only",
                         "pass" if is_good else "fail", repr(float(hours)), "metered"))  # fmt: skip
    folder.mkdir(parents=True, exist_ok=True)
    _write(folder / "units.csv", "unit_id family sticks in_service_on new_or_used", units)
    _write(
        folder / "jobs.csv",
        "job_id unit_id stick family received_on visit_reason finding action outcome usage_hours usage_basis",
        jobs,
    )
    return folder


def _visits(entry: float, lower: float, upper: float) -> list[tuple[float, str, str]]:
    visits = [(entry, "check", "no_fault_found")] if entry > 0 else []
    if lower == upper:
        return [*visits, (lower, "fault_report", "fault_confirmed")]
    if lower > entry:
        visits.append((lower, "check", "no_fault_found"))
    if math.isfinite(upper):
        visits.append((upper, "check", "fault_confirmed"))
    return visits


def _write(path: Path, columns: str, rows: list[tuple]) -> None:
    pd.DataFrame(rows, columns=columns.split()).to_csv(path, index=False)
