"""Lives under a law of wear, Weibull or lognormal, as they stand in the answer record."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class SurvivingAt:
    """The share still good at the age of the setting `age`, by the curve and by both laws; at_risk: watched at that age."""

    age: float
    unit: str
    at_risk: int
    curve: Estimate
    weibull: Estimate
    lognormal: Estimate


@dataclass(frozen=True)
class Lognormal:
    """A lognormal fit; log_sd is the standard deviation of the natural log of life."""

    because: Because | None
    log_sd: Estimate
    b10: Estimate
    median: Estimate
    log_likelihood: float | None


@dataclass(frozen=True)
class Laws:
    """The two laws side by side. better: weibull, lognormal or too_close, by an AIC difference of 2.

    aic_difference: Weibull less lognormal; b10_ratio, median_ratio: lognormal over Weibull.
    """

    because: Because | None
    better: str | None
    aic_difference: float | None
    b10_ratio: float | None
    median_ratio: float | None
    lognormal: Lognormal


@dataclass(frozen=True)
class LawPoint:
    """One age with failures: the share failed by then, and its height on the axis on which each law is a straight line."""

    at: float
    failed_share: float
    weibull_height: float
    lognormal_height: float


@dataclass(frozen=True)
class LawStep:
    """The height of a fitted law at one age, with its limits."""

    at: float
    height: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class LawPlot:
    """The probability plot of an answer of one group; a law that was not fitted has no steps, and `laws` says why."""

    points: list[LawPoint]
    weibull: list[LawStep]
    lognormal: list[LawStep]


@dataclass(frozen=True)
class AssumedLife:
    """Lives under one assumed Weibull shape."""

    shape: float
    scale: Estimate
    b10: Estimate
    median: Estimate


@dataclass(frozen=True)
class AssumedShape:
    """Lives under an assumed shape, for groups with few failures or none.

    shape_from: `pooled` (shared by the answer's groups) or `setting`. is_one_sided: nothing failed, so there are lower
    limits only. between: failures put at the middle of their interval. others: 0.5 less and more.
    """

    because: Because | None
    shape_from: str | None
    is_one_sided: bool
    between: int
    life: AssumedLife | None
    others: list[AssumedLife]
