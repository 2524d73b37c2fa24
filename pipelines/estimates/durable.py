"""Durable success: the share of cleaning attempts that passed and then held until a horizon, from censored follow-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import Tally, group, require, require_columns, tally, times, whole_counts
from pipelines.estimates.product_limit import product_limits
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
    tables = [_Table.of(number, left) for number in range(groups.count)]
    shares = product_limits([one.at_risk for one in tables], [one.failed for one in tables])
    return [
        _success(values, table, share, horizon=horizon, level=level)
        for values, table, share in zip(groups.tuples(), tables, shares, strict=True)
    ]


@dataclass(frozen=True)
class _Table:
    """One group's counts by time of leaving, sorted. No late entry here."""

    at: np.ndarray
    failed: np.ndarray
    censored: np.ndarray
    at_risk: np.ndarray

    @classmethod
    def of(cls, number: int, left: Tally) -> _Table:
        mine = slice(*np.searchsorted(left.code, [number, number + 1]))
        failed, censored = (one[mine].astype(np.int64) for one in left.sums)
        removed = failed + censored
        return cls(left.value[mine], failed, censored, removed.sum() - (np.cumsum(removed) - removed))


def _success(values: tuple, table: _Table, curve: np.ndarray, *, horizon: float, level: float) -> DurableShare:
    early = table.at <= horizon
    attempts, failures = int((table.failed + table.censored).sum()), int(table.failed[early].sum())
    held = int(table.failed[~early].sum() + table.censored[table.at >= horizon].sum())
    size = (values, float(horizon), attempts, failures, failures + held)
    # Everyone else was lost sight of; only if the last one at risk failed is the curve known to be 0.
    if not held and not (early & (table.failed == table.at_risk)).any():
        return DurableShare(*size, None, None, None, None, Because.NO_FOLLOW_UP)
    share = float(curve[early][-1]) if early.any() else 1.0
    is_end = share in (0.0, 1.0)
    n_effective = float(failures + held) if is_end else (1 - share) / (share * _greenwood(table, early))
    limits = wilson(share * n_effective, n_effective, level=level)
    return DurableShare(*size, share, limits.low, limits.high, n_effective)


def _greenwood(table: _Table, early: np.ndarray) -> float:
    """Return Σ d / (Y (Y − d)) up to the horizon."""
    counts = early & (table.failed < table.at_risk)
    failed, at_risk = table.failed[counts], table.at_risk[counts]
    return float((failed / (at_risk * (at_risk - failed))).sum())
