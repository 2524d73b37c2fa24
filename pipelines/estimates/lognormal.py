"""Lognormal lifetimes by maximum likelihood from counts: late entry, right and interval censoring together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, sqrt
from statistics import NormalDist

import pandas as pd

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lives import GroupFit, checked, exponential, fitted, share_above
from pipelines.estimates.lognormal_likelihood import LognormalCounts
from pipelines.vocabulary import Because

#: Normal quantiles of the shares failed at the median and at B10.
MEDIAN, B10 = 0.0, NormalDist().inv_cdf(0.1)
#: Beyond this height the share that survives is under 1e-280, and would round to 0.
HIGHEST = 35.8


@dataclass(frozen=True)
class LognormalFit:
    """One group's fit. S(t) = Φ(−log(t / median) / log_sd), t from age 0 in the clock's unit, Φ the normal distribution.

    by: the group's values in the order asked for; because: why there is no fit, else None.
    log_sd is the standard deviation of the natural log of life; median and b10 are in the clock's unit; surviving are
    shares at the ages asked for, in their order; all with likelihood-ratio limits.
    log_likelihood: as in `WeibullFit`, so the two may be compared. None without a fit.
    """

    by: tuple
    spells: int
    failures: int
    because: Because | None
    log_sd: Estimate
    median: Estimate
    b10: Estimate
    log_likelihood: float | None
    surviving: tuple[Estimate, ...] = ()


def lognormal(
    spells: pd.DataFrame,
    *,
    by: Sequence[str],
    level: float = 0.95,
    min_failures: int = 6,
    entries: pd.DataFrame | None = None,
    ages: Sequence[float] = (),
) -> list[LognormalFit]:
    """Fit a lognormal distribution to each group of counted spells.

    Arguments, refusals and errors as in `weibull`; one fit per group, in sorted order.
    Source: Meeker & Escobar (1998), Statistical Methods for Reliability Data, chapters 8 and 11 (from memory).
    """
    groups = fitted(
        checked(spells, by=by, entries=entries), LognormalCounts,
        heights=(MEDIAN, B10), ages=ages, level=level, min_failures=min_failures,
    )  # fmt: skip
    return [_fit(one, age_count=len(ages)) for one in groups]


def _fit(group: GroupFit, *, age_count: int) -> LognormalFit:
    size, line = (group.by, group.spells, group.failures), group.line
    if isinstance(line, Because):
        refused = Estimate.refused(line)
        return LognormalFit(*size, line, *[refused] * 3, None, (refused,) * age_count)
    numbers = [exponential(line.log_shape, is_falling=True), *(exponential(one) for one in line.log_times)]
    surviving = tuple(share_above(triple, surviving_share) for triple in line.heights)
    return LognormalFit(*size, None, *numbers, line.log_likelihood, surviving)


def surviving_share(height: float) -> float:
    """Return the share that survives where the normal quantile of the share failed is `height`."""
    return erfc(min(height, HIGHEST) / sqrt(2)) / 2
