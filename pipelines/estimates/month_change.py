"""Is a month's rate of faults more than chance away from the month before, and from the mean of the year before?"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.rate_ratio import rate, rate_ratio
from pipelines.vocabulary import Because

#: Fewer months before than this are no year's mean, and do not tell how much months differ.
LEAST_MONTHS = 4


@dataclass(frozen=True)
class MonthChange:
    """The last month against those before.

    rate: faults per unit of exposure; against_before, against_mean: its ratio to the month before, and to all months before;
    spread: how much counts of months vary, over Poisson counts, at least 1; months: before it.
    """

    rate: Estimate
    against_before: Estimate
    against_mean: Estimate
    spread: float
    months: int


@dataclass(frozen=True)
class CostChange:
    """Money for each hour played: the last month, and its ratio to the month before and to all months before."""

    per_hour: Estimate
    against_before: Estimate
    against_mean: Estimate


def month_change(faults: np.ndarray, exposure: np.ndarray, *, level: float = 0.95) -> MonthChange:
    """Hold the last month against those before; faults and exposure by month, in order of time, without gaps.

    With fewer than LEAST_MONTHS before it the mean is refused as `no_follow_up`, and months are taken to vary as pure chance
    does.
    Raises InputError.
    Source: exact limits as in `rate_ratio`; the spread from the squared differences of successive months (von Neumann 1941, from
    memory), which a slow trend does not touch, with Student's quantile on the degrees of freedom that they tell.
    """
    n, h = np.asarray(faults, dtype=float), np.asarray(exposure, dtype=float)
    _require(n, h)
    if not len(n):
        nothing = Estimate.refused(Because.NO_SPELLS)
        return MonthChange(nothing, nothing, nothing, 1.0, 0)
    spread, strict = _widened(_rate_steps(n[:-1], h[:-1]), level)
    words = {"level": strict, "spread": spread}
    return MonthChange(
        rate=rate(n[-1], h[-1], **words),
        against_before=rate_ratio(n[-1], h[-1], n[-2], h[-2], **words) if len(n) > 1 else Estimate.refused(Because.NO_FOLLOW_UP),
        against_mean=rate_ratio(n[-1], h[-1], n[:-1].sum(), h[:-1].sum(), **words)
        if len(n) > LEAST_MONTHS else Estimate.refused(Because.NO_FOLLOW_UP),
        spread=spread, months=len(n) - 1,
    )  # fmt: skip


def cost_change(cost: np.ndarray, squares: np.ndarray, exposure: np.ndarray, *, level: float = 0.95) -> CostChange:
    """Hold the cost of an hour in the last month against those before.

    cost, exposure: by month, in order of time; squares: of what each controller's work and each stop cost that month, summed.
    A month without any cost has none to compare: `no_failures`. Raises InputError.
    Source: limits on the log scale, with the variance of a sum of independent costs (compound Poisson), widened as much as
    months differ beyond it.
    """
    c, s, h = (np.asarray(one, dtype=float) for one in (cost, squares, exposure))
    _require(c, h)
    if not (len(s) == len(c) and (s >= 0).all()):
        raise InputError("The squares of costs are no squares.", "Give a number from 0 for each month.")
    if not len(c) or not h[-1]:
        nothing = Estimate.refused(Because.NO_SPELLS)
        return CostChange(nothing, nothing, nothing)
    if not c[-1]:
        nothing = Estimate.refused(Because.NO_FAILURES)
        return CostChange(nothing, nothing, nothing)
    spread, strict = _widened(_cost_steps(c[:-1], s[:-1], h[:-1]), level)
    z = normal_quantile(strict)

    def ratio(base: slice) -> Estimate:
        if not (c[base].sum() and h[base].sum()):
            return Estimate.refused(Because.NO_FAILURES)
        middle = log(c[-1] / h[-1] / (c[base].sum() / h[base].sum()))
        half = z * sqrt(spread * (s[-1] / c[-1] ** 2 + s[base].sum() / c[base].sum() ** 2))
        return Estimate(exp(middle), exp(middle - half), exp(middle + half))

    half = z * sqrt(spread * s[-1]) / c[-1]
    per_hour = c[-1] / h[-1]
    return CostChange(
        Estimate(per_hour, per_hour * exp(-half), per_hour * exp(half)),
        ratio(slice(-2, -1)) if len(c) > 1 else Estimate.refused(Because.NO_FOLLOW_UP),
        ratio(slice(0, -1)) if len(c) > LEAST_MONTHS else Estimate.refused(Because.NO_FOLLOW_UP),
    )


def _rate_steps(n: np.ndarray, h: np.ndarray) -> np.ndarray:
    """Return the squared difference of each two successive months over what chance alone would make of it."""
    n, h = n[h > 0], h[h > 0]
    if not n.sum():
        return np.zeros(0)
    return np.diff(n / h) ** 2 / (n.sum() / h.sum() * (1 / h[1:] + 1 / h[:-1]))


def _cost_steps(c: np.ndarray, s: np.ndarray, h: np.ndarray) -> np.ndarray:
    """Return the same of the logarithms of costs."""
    is_told = (c > 0) & (h > 0)
    c, s, h = c[is_told], s[is_told], h[is_told]
    return np.diff(np.log(c / h)) ** 2 / (s[1:] / c[1:] ** 2 + s[:-1] / c[:-1] ** 2)


def _widened(steps: np.ndarray, level: float) -> tuple[float, float]:
    """Return how much more than by chance months vary, at least 1, and the level of a normal that reaches as far as Student's
    quantile on the degrees of freedom that tell it.
    """
    from scipy.special import ndtr, stdtrit

    normal_quantile(level)
    spread = float(steps.mean()) if len(steps) + 1 >= LEAST_MONTHS else 1.0
    if spread <= 1:
        return 1.0, level
    known = 2 * len(steps) ** 2 / (3 * len(steps) - 1)
    return spread, float(2 * ndtr(stdtrit(known, (1 + level) / 2)) - 1)


def _require(n: np.ndarray, h: np.ndarray) -> None:
    if n.shape != h.shape or n.ndim != 1:
        raise InputError("Months and their exposure do not go together.", "Give one number of each for each month.")
    if not (np.isfinite(n).all() and np.isfinite(h).all() and (n >= 0).all() and (h >= 0).all()):
        raise InputError("A month holds no number from 0.", "Count faults and hours.")
    if (n[h == 0] > 0).any():
        raise InputError("A month has faults or costs where nothing was watched.", "Leave it out.")
