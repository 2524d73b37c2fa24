"""Made fleets whose modules come from supplier batches in use one after another, as the running evidence takes them."""

from __future__ import annotations

import numpy as np
import pandas as pd

WEEKS, SITES, SHAPE, SCALE = 200, 6, 2.0, 70.0
#: Weeks of one age step and of one period of fitting, as the facts have them.
AGE, PERIOD = 4, 26
#: Measured: failures of modules of batches that one controller of two sticks gives.
FAILURES_OF_A_UNIT = 3.4


def made_batches(rng: np.random.Generator, failures: int, ratios: np.ndarray, *, variance: float = 0.3) -> pd.DataFrame:
    """Return counts of about so many failures: cell, batch, look (a week), at_risk, failures.

    ratios: hazard ratio of each batch; a failed module is replaced by one of the last three batches received, so batches follow
    each other at every site. variance: of the gamma factor that the sticks of a controller share. A failure is found a week later
    on average, and counts then. A controller counts once for a batch.
    """
    modules = _modules(rng, max(round(failures / FAILURES_OF_A_UNIT), 6), ratios, variance)
    return _counts(_once(modules))


def _modules(rng: np.random.Generator, units: int, ratios: np.ndarray, variance: float) -> pd.DataFrame:
    unit = np.repeat(np.arange(units), 2)
    factor = (rng.gamma(1 / variance, variance, units) if variance else np.ones(units))[unit]
    site = rng.integers(0, SITES, units)[unit]
    received = np.concatenate([[0.0], np.linspace(20, WEEKS - 20, len(ratios) - 1)])
    start, batch, found = np.zeros(len(unit)), np.full(len(unit), -1), []
    life = SCALE * (rng.exponential(size=len(unit)) / factor) ** (1 / SHAPE) * rng.uniform(0.2, 1, len(unit))
    while (start < WEEKS).any():
        failed_at = start + life + rng.exponential(1.0, len(unit))
        left_at = np.minimum(start + rng.exponential(150.0, len(unit)), WEEKS - 1e-6)
        ended = np.minimum(failed_at, left_at)
        is_watched = (start < WEEKS - 1) & (batch >= 0)
        rows = {"unit": unit, "site": site, "batch": batch, "first": start, "last": ended, "failed": failed_at <= left_at}
        found.append(pd.DataFrame(rows)[is_watched])
        start = ended + rng.exponential(1.0, len(unit))
        latest = np.searchsorted(received, start, side="right") - 1
        batch = np.maximum(latest - rng.integers(0, 3, len(unit)), 0)
        life = SCALE * (rng.exponential(size=len(unit)) / (factor * ratios[batch])) ** (1 / SHAPE)
    rows = pd.concat(found, ignore_index=True)
    return rows.assign(first=np.floor(rows["first"]).astype(int), last=np.floor(rows["last"]).astype(int))


def _once(modules: pd.DataFrame) -> pd.DataFrame:
    """Return the modules watched up to the first failure of their controller in that batch."""
    first = modules[modules["failed"]].sort_values("last", kind="stable").drop_duplicates(["unit", "batch"])
    rows = modules.join(first.set_index(["unit", "batch"])["last"].rename("until"), on=["unit", "batch"])
    rows = rows.assign(failed=rows.index.isin(first.index), last=np.fmin(rows["last"], rows["until"]).astype(int))
    return rows[~(rows["first"] > rows["until"])]


def _counts(modules: pd.DataFrame) -> pd.DataFrame:
    length = (modules["last"] - modules["first"] + 1).to_numpy()
    of = np.repeat(np.arange(len(modules)), length)
    age = np.arange(len(of)) - np.repeat(np.cumsum(length) - length, length)
    rows = modules.iloc[of]
    look = rows["first"].to_numpy() + age
    cell = (rows["site"].to_numpy() * WEEKS + rows["first"].to_numpy() // PERIOD) * WEEKS + age // AGE
    return (
        pd.DataFrame({
            "cell": cell, "batch": rows["batch"].to_numpy(), "look": look, "at_risk": 1.0,
            "failures": (rows["failed"].to_numpy() & (age == length[of] - 1)).astype(int),
        })
        .groupby(["cell", "batch", "look"], as_index=False)
        .sum()
    )  # fmt: skip
