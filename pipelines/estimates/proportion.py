"""Shares: k of n, with Wilson's score limits."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Share:
    """k of n as a share (0–1) with its limits; without attempts the three are None and `because` says so."""

    k: int
    n: int
    share: float | None
    low: float | None
    high: float | None
    because: Because | None = None


def normal_quantile(level: float) -> float:
    """Return z with a standard normal variable inside ±z with probability `level` (1.96 for 0.95).

    Raises InputError unless 0 < level < 1.
    """
    if not 0 < level < 1:
        raise InputError(f"A level of {level} is not a probability.", "Give a level between 0 and 1, such as 0.95.")
    return NormalDist().inv_cdf((1 + level) / 2)


def wilson(k: float, n: float, *, level: float = 0.95) -> Estimate:
    """Return the share k/n with Wilson's limits.

    k, n: successes and trials; fractions are allowed, for an effective number of trials.
    No trials give `no_attempts`. Raises InputError unless 0 <= k <= n.
    Source: Wilson (1927), method 3 of Newcombe (1998), Statistics in Medicine 17:857–872.
    """
    if not 0 <= k <= n:
        raise InputError(f"{k} of {n} is not a share.", "Count the successes among the attempts.")
    z = normal_quantile(level)
    if n == 0:
        return Estimate.refused(Because.NO_ATTEMPTS)
    return Estimate(k / n, *score_limits(k / n, n, z))


def score_limits(share: float, n: float, quantile: float) -> tuple[float, float]:
    """Return Wilson's limits of a share of n > 0 for the quantile of any reference distribution, as in `wilson`."""
    middle = (share + quantile**2 / (2 * n)) / (1 + quantile**2 / n)
    half_width = quantile / (1 + quantile**2 / n) * sqrt(share * (1 - share) / n + quantile**2 / (4 * n * n))
    # At the ends one limit is exactly 0 or 1; the formula leaves a rounding error of 1e-17 there.
    return 0.0 if share <= 0 else max(0.0, middle - half_width), 1.0 if share >= 1 else min(1.0, middle + half_width)


def share(k: int, n: int, *, level: float = 0.95) -> Share:
    """Return k of n with Wilson's limits as a record that keeps its counts.

    Raises InputError unless 0 <= k <= n.   Source: as `wilson`.
    """
    estimate = wilson(k, n, level=level)
    return Share(k, n, estimate.estimate, estimate.low, estimate.high, estimate.because)
