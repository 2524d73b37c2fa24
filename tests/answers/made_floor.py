"""A floor of two sites with a known rate of faults, as a log: read monthly, each fault reported and cleaned the same day."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pandas as pd

from tests.answers.logs import Log

FIRST, START, LAST = dt.date(2024, 1, 1), dt.date(2025, 1, 1), dt.date(2025, 12, 31)
HOURS_A_DAY = 3.0


def made_floor(
    folder: Path, *, units: int = 60, per_year: float = 4.0, variation: float = 0.5, effect: float = 1.0, seed: int = 1,
    **tables: str,
) -> tuple[Log, list[str]]:  # fmt: skip
    """Load a floor of controllers N-000 … and S-000 …; effect: on the rate of the southern ones from START on.

    Return the log and the controllers from most to fewest faults before START.
    """
    rng = np.random.default_rng(seed)
    own = per_year * rng.gamma(variation**-2, variation**2, units)
    names = [f"{'NS'[number % 2]}-{number:03d}" for number in range(units)]
    jobs, readings, before = [], [], {}
    for name, mean in zip(names, own, strict=True):
        site = "north" if name[0] == "N" else "south"
        days = [
            FIRST + dt.timedelta(days=int(day)) for day in sorted(rng.choice(np.arange(3, 366), rng.poisson(mean), replace=False))
        ]
        before[name] = len(days)
        later = rng.poisson(mean * (effect if site == "south" else 1.0))
        days += [START + dt.timedelta(days=int(day)) for day in sorted(rng.choice(365, later, replace=False))]
        rows = (f"{name} {day} {site} 20 clean_open pass S Nolm fault_report fault_confirmed" for day in days)
        jobs += [f"J{len(jobs) + place} {row}" for place, row in enumerate(rows)]
        months = [dt.date(2024 + place // 12, place % 12 + 1, 1) for place in range(24)] + [LAST]
        readings += [f"{name} {day} {HOURS_A_DAY * (day - FIRST).days:g}" for day in months]
    register = [f"{name} Nolm S {FIRST} new {'north' if name[0] == 'N' else 'south'}" for name in names]
    log = Log(
        folder,
        units="\n".join(["unit_id family sticks in_service_on new_or_used site_id", *register]),
        jobs="\n".join([
            "job_id unit_id received_on site_id bench_minutes action outcome stick family visit_reason finding", *jobs,
        ]),
        usage_readings="\n".join(["unit_id read_on hours", *readings]), **tables,
    )  # fmt: skip
    return log, sorted(names, key=lambda name: -before[name])


def planned_sticks(count: int) -> pd.DataFrame:
    """Return sticks as the cleaning plan takes them, of one site and family, played 1 to 9 h a day."""
    rng = np.random.default_rng(3)
    return pd.DataFrame({
        "unit_id": [f"U{one}" for one in range(count)], "stick": "S", "family": "Nolm", "site": "north", "usage_class": "home",
        "since_on": "2025-01-01", "hours_per_day": rng.uniform(1, 9, count), "age_days": 180.0,
        "age_h": rng.uniform(0, 500, count), "expected_hours_per_week": np.nan,
    })  # fmt: skip
