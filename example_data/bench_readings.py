"""As-found and as-left readings, bench minutes and costs that go with each simulated row."""

from __future__ import annotations

import numpy as np

from example_data import work
from example_data.rows import NOT_TESTED
from example_data.scenario import FAMILIES, LAST_DAY, World

#: House limits of the invented shops: measure → (pass_max, pass_min) in percent.
LIMITS = {"rest_offset": (8.0, None), "jitter": (4.0, None), "return_spread": (5.0, None), "reach": (None, 94.0)}
MINUTES = {1: 4.0, 2: 9.0, 3: 21.0}
FINAL_MINUTES = np.array([0, 17, 3, 6, 9, 12, 0, 24], float)


def add_readings(rng, world: World, frame, rows) -> None:
    """Add readings [% of half-scale], `bench_minutes` and costs to the jobs `frame`, in place."""
    n = len(frame)
    if not world.is_easy:
        _add_stick_readings(rng, frame, rows)
    steps = np.column_stack([rows[f"step_{i}"] for i in (1, 2, 3)])
    minutes = 4 + np.take((0.0, *MINUTES.values()), steps).sum(axis=1) + FINAL_MINUTES[rows["final"]]
    frame["bench_minutes"] = (minutes * rng.lognormal(0, 0.25, n)).round(0)
    swapped = np.isin(rows["final"], (work.REPLACE, work.REPLACE_SENSOR))
    cost = np.array([f.module_cost for f in FAMILIES])[rows["family"]]
    frame["parts_cost"] = np.where(swapped, cost, 0.0).round(2)
    frame["consumables_cost"] = np.take((0.0, 0.05, 0.22, 0.40), steps).sum(axis=1).round(2)


def _add_stick_readings(rng, frame, rows) -> None:
    n = len(frame)
    read = (rng.random(n) < np.array([0.75, 0.35, 0.95])[rows["site"]]) & (rows["finding"] != NOT_TESTED)
    found, left = _good_levels(rng, n), _good_levels(rng, n)
    severity = np.where(np.isnan(rows["severity"]), 0.0, rows["severity"])
    bad_found = (rows["is_bad_found"] == 1) & (rows["mode"] >= 0)
    seen = _bad_levels(rng, severity)
    for place, (name, levels) in enumerate(found.items()):
        mode_here = np.isin(rows["mode"], ((0, 5), (1, 4), (2,), (3,))[place])
        hit = bad_found & mode_here
        levels[hit] = seen[name][hit]
        failed = hit & (rows["outcome"] == work.FAIL)
        left[name][failed] = levels[failed]
    false_pass = (rows["is_bad_left"] == 1) & (rows["outcome"] != work.FAIL)
    left["rest_offset"][false_pass] = rng.uniform(6.2, 7.9, false_pass.sum())
    frame["reading_basis"] = np.where(read, "raw", None)
    worked = read & (rows["final"] != work.TEST_ONLY) & ~np.isin(rows["outcome"], (work.SCRAPPED,))
    worked &= rows["closed_day"] <= LAST_DAY
    for name in found:
        frame[f"af_{name}_pct"] = np.where(read, found[name].round(1), np.nan)
        frame[f"al_{name}_pct"] = np.where(worked, left[name].round(1), np.nan)


def _good_levels(rng, n) -> dict[str, np.ndarray]:
    return {
        "rest_offset": np.minimum(rng.lognormal(np.log(2.6), 0.4, n), 7.8),
        "jitter": np.minimum(rng.lognormal(np.log(1.1), 0.4, n), 3.8),
        "return_spread": np.minimum(rng.lognormal(np.log(1.6), 0.4, n), 4.8),
        "reach": np.clip(rng.normal(99, 1.6, n), 94.2, 104),
    }


def _bad_levels(rng, severity) -> dict[str, np.ndarray]:
    n, noise = len(severity), rng.lognormal(0, 0.15, len(severity))
    return {
        "rest_offset": np.minimum(8.1 + 26 * severity**1.5 * noise, 90),
        "jitter": 4.1 + 10 * severity * noise,
        "return_spread": 5.1 + 12 * severity * noise,
        "reach": np.maximum(93.9 - 25 * severity * rng.uniform(0.6, 1.2, n), 20),
    }
