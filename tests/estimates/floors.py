"""Floors of known truth: seats with a controller each, families, sites, and how much controllers differ."""

from __future__ import annotations

import numpy as np
import pandas as pd


def floor(
    rng, *, seats: int, expected: float, variance: float, bad: float = 1.0, families: int = 4, sites: int = 2
) -> pd.DataFrame:
    """Return counts as `place_rates` takes them. bad: by how much the seat '0' has more faults than the others."""
    family, site = rng.integers(0, families, seats), rng.integers(0, sites, seats)
    rate = np.exp(rng.normal(0, 0.4, families))[family] * np.exp(rng.normal(0, 0.4, sites))[site]
    factor = rng.gamma(1 / variance, variance, seats) if variance else np.ones(seats)
    use = rng.uniform(0.5, 1.5, seats) * expected / 2
    worse = np.where(np.arange(seats) == 0, bad, 1.0)
    sticks = [
        pd.DataFrame({
            "station": np.arange(seats).astype(str), "unit": np.arange(seats), "stick": stick, "family": family, "site": site,
            "exposure": 1000 * use, "failure_count": rng.poisson(use * rate * factor * worse),
        })
        for stick in ("L", "R")
    ]  # fmt: skip
    return pd.concat(sticks, ignore_index=True)
