"""Weibull or lognormal: which law the same spells bear out better, and what it matters."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lognormal import LognormalFit
from pipelines.estimates.weibull import WeibullFit
from pipelines.vocabulary import Because, BetterLaw

#: A difference under this is none.
CLEAR = 2.0


@dataclass(frozen=True)
class LawComparison:
    """One group's two fits side by side.

    aic_difference: AIC of the Weibull less that of the lognormal fit, so above 0 where lognormal fits better; b10_ratio,
    median_ratio: lognormal over Weibull, what the choice of the law alone does to the answer. Without one of the fits all
    four are None and `because` is its reason; a ratio alone is None where one of its two times is.
    """

    by: tuple
    because: Because | None
    aic_difference: float | None
    better: BetterLaw | None
    b10_ratio: float | None
    median_ratio: float | None


def comparison(weibull: WeibullFit, lognormal: LognormalFit) -> LawComparison:
    """Compare the two fits of one group by Akaike's criterion; under a difference of 2 the two are too close to tell.

    Both laws have two parameters, so the difference is twice that of the log-likelihoods, which are of the same spells.
    Raises InputError on fits of different spells.
    Source: Akaike (1974); the 2: Burnham & Anderson (2002), Model Selection and Multimodel Inference (both from memory).
    """
    if (weibull.by, weibull.spells, weibull.failures) != (lognormal.by, lognormal.spells, lognormal.failures):
        raise InputError("The two fits are not of the same spells.", "Fit both laws to the same counts.")
    because = weibull.because or lognormal.because
    if because is not None:
        return LawComparison(weibull.by, because, None, None, None, None)
    difference = 2 * (lognormal.log_likelihood - weibull.log_likelihood)
    better = BetterLaw.LOGNORMAL if difference > 0 else BetterLaw.WEIBULL
    if abs(difference) < CLEAR:
        better = BetterLaw.TOO_CLOSE
    ratios = (ratio(getattr(lognormal, name), getattr(weibull, name)) for name in ("b10", "median"))
    return LawComparison(weibull.by, None, difference, better, *ratios)


def ratio(one: Estimate, other: Estimate) -> float | None:
    """Return one estimate over the other, None where either is missing."""
    if one.estimate is None or other.estimate is None:
        return None
    return one.estimate / other.estimate
