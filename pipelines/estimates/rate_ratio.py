"""Rates of faults by exposure, their ratio, and whether a halving would have been found."""

from __future__ import annotations

from math import exp, inf, isfinite, log, sqrt

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because


def rate(count: float, exposure: float, *, level: float = 0.95, spread: float = 1.0) -> Estimate:
    """Return count / exposure with its limits, in faults per unit of exposure.

    spread: variance over that of Poisson counts, from 1. No exposure gives `no_spells`; no fault gives an upper limit alone, with
    `no_failures`. Raises InputError.
    Source: exact limits of Garwood (1936, from memory) on the counts divided by `spread`.
    """
    from scipy.special import gammaincinv

    _require(count, exposure, spread)
    tail = (1 - _checked(level)) / 2
    if exposure == 0:
        return Estimate.refused(Because.NO_SPELLS)
    told = count / spread
    high = float(gammaincinv(told + 1, 1 - tail)) * spread / exposure
    if count == 0:
        return Estimate(None, None, high, Because.NO_FAILURES)
    return Estimate(count / exposure, float(gammaincinv(told, tail)) * spread / exposure, high)


def rate_ratio(
    count: float, exposure: float, base_count: float, base_exposure: float, *, level: float = 0.95, spread: float = 1.0
) -> Estimate:
    """Return the rate over the base rate with its limits.

    spread: variance of both counts over that of Poisson counts, from 1. Without exposure on a side `no_spells`; without any fault
    on one side the estimate is refused as `no_failures`, and the one limit that there is is given. Raises InputError.
    Source: conditional exact limits, those of Clopper & Pearson for the share of the faults that fell on the first side
    (Przyborowski & Wilenski 1940, from memory), on the counts divided by `spread`.
    """
    from scipy.special import betaincinv

    _require(count, exposure, spread)
    _require(base_count, base_exposure, spread)
    tail = (1 - _checked(level)) / 2
    if not (exposure and base_exposure):
        return Estimate.refused(Because.NO_SPELLS)
    if not (count or base_count):
        return Estimate.refused(Because.NO_FAILURES)
    told, base = count / spread, base_count / spread
    per = base_exposure / exposure
    low, high = None, None
    if count:
        share = float(betaincinv(told, base + 1, tail))
        low = per * share / (1 - share)
    if base_count:
        share = float(betaincinv(told + 1, base, 1 - tail))
        high = per * share / (1 - share) if share < 1 else None
    if low is None or high is None:
        return Estimate(None, low, high, Because.NO_FAILURES)
    return Estimate(per * count / base_count, low, high)


def against_expected(
    count: float, expected: float, *, relative_error: float, level: float = 0.95, spread: float = 1.0
) -> Estimate:
    """Return count / expected with its limits, where `expected` is itself known to a relative error (SD of its logarithm).

    No fault gives an upper limit alone, with `no_failures`; nothing expected gives `no_failures`. Raises InputError.
    Source: the limits of `rate` and of the expected number joined on the log scale as in Zou & Donner (2008, from memory).
    """
    if not (isfinite(relative_error) and relative_error >= 0):
        raise InputError(f"A relative error of {relative_error} is none.", "Give a number from 0.")
    z = normal_quantile(level)
    alone = rate(count, expected, level=level, spread=spread)
    if alone.high is None:
        return Estimate.refused(Because.NO_FAILURES)
    if alone.estimate is None:
        return Estimate(None, None, alone.high * exp(z * relative_error), alone.because)
    middle, low, high = (log(one) for one in (alone.estimate, alone.low, alone.high))
    below, above = (sqrt((middle - end) ** 2 + (z * relative_error) ** 2) for end in (low, high))
    return Estimate(alone.estimate, exp(middle - below), exp(middle + above))


def halving_power(expected: float, *, relative_error: float, level: float = 0.95, spread: float = 1.0) -> float:
    """Return the chance that a halving of the rate would be shown, 0 to 1.

    expected: faults that the second side would have without a change; relative_error: of that number, SD of its logarithm.
    Source: normal approximation on the log scale.
    """
    from scipy.special import ndtr

    if expected <= 0:
        return 0.0
    error = sqrt(relative_error**2 + 2 * spread / expected)
    return float(ndtr(log(2) / error - normal_quantile(level)))


def _checked(level: float) -> float:
    normal_quantile(level)
    return level


def _require(count: float, exposure: float, spread: float) -> None:
    if not (0 <= count < inf and 0 <= exposure < inf):
        raise InputError(f"{count} faults in {exposure} is no rate.", "Give numbers from 0.")
    if not 1 <= spread < inf:
        raise InputError(f"A spread of {spread} is under that of pure chance.", "Give a number from 1.")
    if count and not exposure:
        raise InputError(f"{count} faults fell where nothing was watched.", "Count faults inside the exposure only.")
