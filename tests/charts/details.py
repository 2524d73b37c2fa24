"""The heavier parts of answer records, small, for figures, tables and screens to show."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

from pipelines.answers.detail import (
    ByController,
    BySite,
    ClockQuestion,
    FailedPoint,
    Interval,
    IntervalCurve,
    MeanCumulative,
    MeanPoint,
    Mechanism,
    Place,
    PooledLife,
    PooledShare,
    Standardised,
    TrendPart,
    WeibullByCluster,
)
from pipelines.answers.factors_record import FactorCheck, FactorGroup, LevelRatio
from pipelines.answers.laws_record import LawPlot, LawPoint, LawStep, SurvivingAt
from pipelines.answers.record import CleaningGroup, LifeGroup
from pipelines.answers.restoration_record import CleanEffect, RestorationGroup
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.probability_plot import lognormal_height, weibull_height
from pipelines.vocabulary import Because

REFUSED = Estimate.refused(Because.TOO_FEW_FAILURES)


def mechanism(name: str, *, failures: int, last: float = 0.3) -> Mechanism:
    """Return a mechanism whose curve rises evenly to `last` at 400."""
    shares = [(100.0 * step, last * step / 4) for step in range(5)]
    points = [FailedPoint(at, share, share * 0.7, share * 1.3, 40 - 8 * number, 2, number < 4)
              for number, (at, share) in enumerate(shares)]  # fmt: skip
    return Mechanism(name, failures, points)


def with_mechanisms(group: LifeGroup, *mechanisms: Mechanism) -> LifeGroup:
    return replace(group, by_mechanism=list(mechanisms))


def mean_cumulative(*, last: float = 1.2, units: int = 40) -> MeanCumulative:
    """Return a mean count that rises evenly to `last` at 400."""
    points = [MeanPoint(100.0 * step, last * step / 4, last * step / 5, last * step / 3, units - 5 * step, 3, step < 4)
              for step in range(5)]  # fmt: skip
    trend = TrendPart(None, "getting_more_frequent", 0.01, Estimate(1.4, 1.1, 1.8), 30)
    return MeanCumulative(None, units, 12, 0.0, 300.0, Estimate(last, last * 0.8, last * 1.3), points, trend)


def interval_curve() -> IntervalCurve:
    """Return a curve that falls between 100 and 200, and between 300 and 400."""
    points = [Interval(100.0, 200.0, 0.8, 0.6, 0.9, 40), Interval(300.0, 400.0, 0.5, None, None, 20)]
    return IntervalCurve(None, 0.0, points, Estimate(150.0, 100.0, 200.0), REFUSED)


def pooled_life(median: float, *, rank: int, low: int, high: int) -> PooledLife:
    """Return a pooled life with a rank."""
    halves = Estimate(median, median * 0.8, median * 1.2)
    return PooledLife(None, Estimate(median / 3, median / 4, median / 2), halves, Place(rank, low, high, 0.4))


def pooled_share(share: float, *, rank: int, low: int, high: int) -> PooledShare:
    """Return a pooled share with a rank."""
    same_day = Estimate(share, share - 0.1, share + 0.1)
    return PooledShare(None, same_day, same_day, Place(rank, low, high, 0.4))


def with_pooled(group: LifeGroup | CleaningGroup, pooled: PooledLife | PooledShare) -> LifeGroup | CleaningGroup:
    return replace(group, pooled=pooled)


def by_controller(median: float) -> ByController:
    """Return limits by controller around a median."""
    return ByController(
        None, 30, 1.5, b10=Estimate(median / 3, median / 4, median / 2), median=Estimate(median, 0.7 * median, None)
    )


def by_site(median: float) -> BySite:
    """Return limits by site around a median, by the curve and by a Weibull law."""
    around = [Estimate(one, one / 1.5, one * 1.5) for one in (1.2, median / 3, median)]
    return BySite(None, 6, 2.0, b10=around[1], median=around[2], weibull=WeibullByCluster(None, *around, 2.0, 1.4))


def surviving_at(share: float) -> SurvivingAt:
    """Return the share still good at 200, by the curve and by both laws."""
    curve, weibull, lognormal = (Estimate(one, one - 0.1, one + 0.1) for one in (share, share - 0.05, 0.8))
    return SurvivingAt(200.0, "hours", 36, curve, weibull, lognormal)


def standardised(share: float) -> Standardised:
    """Return the share had all failures been cleaned, from 10 of 20."""
    return Standardised(None, 20, 10, 0.5, Estimate(share, share - 0.2, share + 0.2), Estimate(share / 2, 0.1, 0.4), 0.0)


def clock_question(coefficient: float | None) -> ClockQuestion:
    """Return where the lives stand between hours and days, or that it cannot be told."""
    if coefficient is None:
        return ClockQuestion(Because.NO_USAGE_SPREAD, "cannot_tell", Estimate.refused(Because.NO_USAGE_SPREAD), 40)
    return ClockQuestion(None, "hours", Estimate(coefficient, coefficient - 0.3, coefficient + 0.3), 40)


def law_plot(*, scale: float = 500.0, shape: float = 2.0) -> LawPlot:
    """Return dots of a Weibull law, its line with a band, and a lognormal line without limits."""
    shares = [(number + 0.5) / 40 for number in range(40)]
    ages = [scale * (-log(1 - share)) ** (1 / shape) for share in shares]
    points = [LawPoint(at, share, float(weibull_height(share)), float(lognormal_height(share)))
              for at, share in zip(ages, shares, strict=True)]  # fmt: skip
    lines = [exp(log(ages[0]) + (log(ages[-1]) - log(ages[0])) * step / 9) for step in range(10)]
    weibull = [shape * (log(at) - log(scale)) for at in lines]
    return LawPlot(
        points, [LawStep(at, height, height - 0.4, height + 0.4) for at, height in zip(lines, weibull, strict=True)],
        [LawStep(at, 1.6 * (log(at) - log(420)), None, None) for at in lines],
    )  # fmt: skip


def level(factor: str, name: str, ratio: float | None, *, failures: int = 20, is_far: bool = False) -> LevelRatio:
    """Return a level of a factor; the reference has no ratio given."""
    if ratio is None:
        return LevelRatio(factor, name, True, 60, failures, Estimate(1.0, None, None), Estimate(1.0, None, None))
    hazard = Estimate(ratio, ratio / (100 if is_far else 1.4), ratio * (100 if is_far else 1.4))
    return LevelRatio(factor, name, False, 60, failures, hazard, Estimate(1 / ratio, 0.7 / ratio, 1.4 / ratio))


def factor_group(*ratios: LevelRatio) -> FactorGroup:
    """Return the group of a factors answer."""
    names = list(dict.fromkeys(one.factor for one in ratios))
    return FactorGroup(
        {}, "time-to-failure", None, "Corvath drifts 1.8 times as often as Ambrel.", {"spells": 120, "failures": 60}, [], [],
        list(ratios), [FactorCheck(name, None, 0.3, False) for name in names],
    )  # fmt: skip


def restoration_group(by: dict | None = None, *, is_told: bool = True) -> RestorationGroup:
    """Return a group of a restoration answer: two depths; without `is_told` only how long cleans hold."""
    because = None if is_told else Because.RESTORATION_UNTOLD
    given = [Estimate(0.3, 0.1, 0.5), Estimate(0.7, 0.5, 0.9)] if is_told else [Estimate.refused(because)] * 2
    effects = [CleanEffect(depth, cleans, share, Estimate(0.4, 0.3, 0.5))
               for depth, cleans, share in zip(("air", "open"), (80, 120), given, strict=True)]  # fmt: skip
    return RestorationGroup(
        by or {}, because, "An open clean gives back 70 % of the age.",
        {"modules": 90, "gaps": 200, "failures": 90, "gaps_left_out": 0}, "whole", is_told, Estimate(2.1, 1.8, 2.5), 0.1,
        -500.0, effects,
    )  # fmt: skip
