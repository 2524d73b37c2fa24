"""Random units that fail again and again, of a known rate."""

from __future__ import annotations

import numpy as np
import pandas as pd


def random_units(
    seed: int, *, units: int, shape: float = 1.0, spread: float = 0.0, late_share: float = 0.3, groups: int = 1
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return failures (`unit`, `at`) and units (`group`, `unit`, `entry`, `exit`), ages in days.

    The mean number by age t is (t / 400)^shape times a factor of each unit, gamma with mean 1 and variance `spread`. Units
    are watched for 100 to 900 days, late ones from an age of up to 300 on.
    """
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(units) < late_share, rng.uniform(0, 300, units), 0.0)
    exit_at = entry + rng.uniform(100, 900, units)
    factor = rng.gamma(1 / spread, spread, units) if spread else np.ones(units)
    begun, ended = (entry / 400) ** shape, (exit_at / 400) ** shape
    count = rng.poisson(factor * (ended - begun))
    unit = np.repeat(np.arange(units), count)
    at = 400 * (ended[unit] - rng.random(len(unit)) * (ended - begun)[unit]) ** (1 / shape)
    frame = pd.DataFrame({"group": rng.integers(0, groups, units), "unit": np.arange(units), "entry": entry, "exit": exit_at})
    return pd.DataFrame({"unit": unit, "at": np.minimum(at, exit_at[unit])}), frame
