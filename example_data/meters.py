"""Play-hour meters that were changed or misread: what happens to readings and to the hours on later jobs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from example_data.fleet import Fleet

METERS_CHANGED = 8


def reset_some_meters(rng, fleet: Fleet) -> tuple[Fleet, list[str]]:
    """Return the fleet with a few meters restarted at 0 on a monthly reading, flagged there, and the units hit.

    The reading taken that day carries `meter_reset` and shows 0; later readings and jobs count from there.
    """
    readings, jobs = fleet.usage_readings.copy(), fleet.jobs.copy()
    jobs["usage_hours"] = jobs["usage_hours"].astype(float)
    count = readings.groupby("unit_id").size()
    chosen = sorted(rng.choice(count[count > 20].index.to_numpy(), METERS_CHANGED, replace=False))
    for unit in chosen:
        rows = readings.index[readings["unit_id"] == unit]
        spot = rows[int(rng.integers(8, len(rows) - 6))]
        day, before = readings.at[spot, "read_on"], readings.at[spot, "hours"]
        later = rows[rows >= spot]
        readings.loc[later, "hours"] = (readings.loc[later, "hours"] - before).round(1)
        readings.at[spot, "meter_reset"] = True
        after = (jobs["unit_id"] == unit) & (jobs["received_on"] >= day)
        jobs.loc[after, "usage_hours"] = (jobs.loc[after, "usage_hours"] - before).round(1)
    return replace(fleet, tables=fleet.tables | {"jobs": jobs, "usage_readings": readings}), list(chosen)


def misread_some(rng, readings: pd.DataFrame, share: float = 0.0008) -> tuple[pd.DataFrame, int]:
    """Return the readings with a digit lost here and there, so that hours fall, and how many were hit."""
    able = np.flatnonzero(readings["hours"].to_numpy() > 300)
    hit = rng.choice(able, round(share * len(readings)), replace=False)
    found = readings.copy()
    found.iloc[hit, found.columns.get_loc("hours")] = (found["hours"].iloc[hit] / 10).round(1)
    return found, len(hit)
