"""Durable success: the share of cleaning attempts that passed and then held until a horizon, from censored follow-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import group, require, require_columns, tally, times, whole_counts
from pipelines.estimates.proportion import normal_quantile, wilson
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class DurableShare:
    """One group's share of attempts still good at the horizon.

    by: the group's values in the order asked for; attempts: all; failed: at the bench or by the horizon;
    followed: passed and followed to the horizon or to an earlier failure, and those failed at the bench;
    share, low, high: the share that held, with Wilson's limits; n_effective: the number of fully followed attempts that
    would tell as much. All four are None where nothing can be said, and `because` says why.
    """

    by: tuple
    horizon: float
    attempts: int
    failed: int
    followed: int
    share: float | None
    low: float | None
    high: float | None
    n_effective: float | None
    because: Because | None = None


def durable(attempts: pd.DataFrame, *, by: Sequence[str], horizon: float, level: float = 0.95) -> list[DurableShare]:
    """Estimate which share of the attempts passed and held until the horizon.

    attempts: counts per `by`, `is_passed`, `at` (follow-up, from 0, in the clock's unit; 0 for none), `is_failure`
    (the fault came back at `at`), `attempt_count`. A failed as-left test is a failure at 0 whatever `at` says.
    A failure exactly at the horizon did not hold; one censored there did.
    Returns one record per group, in sorted order. Where nobody was followed to the horizon and not all failed,
    `because` says `no_follow_up`.
    Raises InputError.   Method: Kaplan & Meier (1958) over attempts; effective number S(1−S)/Var with Greenwood's
    variance, then Wilson's limits; where S is 0 or 1 the number followed stands in.
    """
    normal_quantile(level)
    if not 0 < horizon < np.inf:
        raise InputError(f"A horizon of {horizon} is no length of time.", "Give a number above 0.")
    require_columns(attempts, ["is_passed", "at", "is_failure", "attempt_count"])
    count = whole_counts(attempts, "attempt_count")
    attempts, count = attempts[count > 0], count[count > 0]
    followed_for = times(attempts, "at")
    require(np.isfinite(followed_for), "A follow-up has no end", "Give the time of the last look.")
    is_passed = attempts["is_passed"].to_numpy(dtype=bool)
    is_failure = ~is_passed | attempts["is_failure"].to_numpy(dtype=bool)
    at = np.where(is_passed, followed_for, 0.0)
    groups = group([attempts], by=by)
    left = tally(groups.codes[0], at, [count * is_failure, count * ~is_failure])
    found = []
    for number, values in enumerate(groups.tuples()):
        mine = slice(*np.searchsorted(left.code, [number, number + 1]))
        table = (left.value[mine], *(one[mine].astype(np.int64) for one in left.sums))
        found.append(_success(values, table, horizon=horizon, level=level))
    return found


def _success(values: tuple, table: tuple[np.ndarray, np.ndarray, np.ndarray], *, horizon: float, level: float) -> DurableShare:
    at, failed, censored = table
    early = at <= horizon
    attempts, failures = int((failed + censored).sum()), int(failed[early].sum())
    held = int(failed[~early].sum() + censored[at >= horizon].sum())
    size = (values, float(horizon), attempts, failures, failures + held)
    if not held and failures < attempts:
        # Everyone else was lost sight of; only if the last one at risk failed is the curve known to be 0.
        at_risk = attempts - np.append(0, np.cumsum(failed + censored)[:-1])
        if not (early & (failed == at_risk) & (failed > 0)).any():
            return DurableShare(*size, None, None, None, None, Because.NO_FOLLOW_UP)
    share, greenwood = _share_at(at, failed, censored, horizon)
    is_end = share in (0.0, 1.0)
    n_effective = float(failures + held) if is_end else (1 - share) / (share * greenwood)
    limits = wilson(share * n_effective, n_effective, level=level)
    return DurableShare(*size, share, limits.low, limits.high, n_effective)


def _share_at(at: np.ndarray, failed: np.ndarray, censored: np.ndarray, horizon: float) -> tuple[float, float]:
    """Return the curve at the horizon and Greenwood's sum Σ d / (Y (Y − d)) up to it; no late entry here."""
    from lifelines import KaplanMeierFitter

    exit_at, weight = np.repeat(at, 2), np.column_stack([failed, censored]).ravel()
    is_failure = np.tile([True, False], len(at))
    with np.errstate(divide="ignore", invalid="ignore"):
        fitter = KaplanMeierFitter().fit(exit_at, is_failure, weights=weight)
    share = float(fitter.survival_function_at_times(horizon).iloc[0])
    removed = failed + censored
    at_risk = removed.sum() - np.append(0, np.cumsum(removed)[:-1])
    counts = (at <= horizon) & (failed > 0) & (failed < at_risk)
    return share, float((failed[counts] / (at_risk[counts] * (at_risk[counts] - failed[counts]))).sum())
