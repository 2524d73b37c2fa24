"""The share of planned cleans that do harm: faults soon after them, beyond those that come anyway."""

from __future__ import annotations

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.counts import require, times
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: With fewer cleans watched that long nothing is told.
LEAST_CLEANS = 50


def harm_after_clean(spells, *, soon: float, level: float = 0.95) -> tuple[Estimate, int]:
    """Return the share of planned cleans followed by a fault that would not have come, and how many cleans tell of it.

    spells: one row per planned clean: `at` (end of the watch since it, in the clock's unit), `is_failure`; soon: the time in
    which harm shows. Faults within `soon`, less those within the same time after it among those still good, which age explains;
    never under 0; normal limits of the difference of two shares. Under 50 cleans watched for twice `soon`, or failed before:
    `too_few_attempts`.   Raises InputError.
    """
    z = normal_quantile(level)
    if not 0 < soon < np.inf:
        raise InputError(f"A time of {soon} is no time.", "Give a time over 0.")
    at, is_failure = times(spells, "at"), spells["is_failure"].to_numpy(dtype=bool)
    require(at >= 0, "A watch ended before it began", "Give times since the clean.")
    followed = (at >= 2 * soon) | is_failure
    at, is_failure = at[followed], is_failure[followed]
    if len(at) < LEAST_CLEANS:
        return Estimate.refused(Because.TOO_FEW_ATTEMPTS), len(at)
    first = is_failure & (at <= soon)
    second = is_failure & (at > soon) & (at <= 2 * soon)
    left = max(len(at) - int(first.sum()), 1)
    early, late = first.mean(), second.sum() / left
    error = np.sqrt(early * (1 - early) / len(at) + late * (1 - late) / left)
    middle, low, high = (float(np.clip(early - late + side * z * error, 0.0, 1.0)) for side in (0, -1, 1))
    return Estimate(middle, low, high), len(at)
