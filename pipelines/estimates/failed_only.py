"""A batch of which only the failed modules are named: the least that its failures can mean, if all the others still hold."""

from __future__ import annotations

import pandas as pd

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.survival import survival


def least_ratio(failed: int, fielded: int, longest: float, others: pd.DataFrame, *, level: float = 0.95) -> Estimate:
    """Return the least ratio of failures to those expected of modules of other batches, with its lower limit alone.

    failed: modules that came in; fielded: how many can have gone out (received less stock, 1 at least), all taken to have served
    since the batch was received, `longest` days ago: more failures are expected of that than there can have been, so the ratio
    is at least so large. others: counts of `entry`, `at`, `is_failure`, `spell_count`, in days, of modules of known batches; past
    the longest watched all are expected to have failed. The limit is one-sided, of a Poisson count (Garwood 1936, from memory).
    """
    from scipy.special import gammaincinv

    expected = fielded * _failed_by(others, longest)
    low = float(gammaincinv(failed, 1 - level)) / expected if failed else 0.0
    return Estimate(failed / expected, low, None)


def _failed_by(others: pd.DataFrame, age: float) -> float:
    """Return the share of modules that fail by an age, by Kaplan and Meier; 1 where none was watched so long, or none failed."""
    if not len(others) or others["at"].max() < age:
        return 1.0
    curve = survival(others.assign(group=0), by=["group"])
    share = curve.loc[curve["at"] <= age, "surviving_share"].iloc[-1]
    return float(1 - share) or 1.0
