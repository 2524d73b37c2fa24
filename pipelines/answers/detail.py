"""The heavier estimates of a group, as they stand in the answer record; contract.md describes every key.

A part that was not asked for (`is_brief`), or does not go with the question, is null. A part that was refused carries its
`because`, and its estimates are null.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Dating:
    """What dating failures at the visit that found them would do: Weibull b10, median, shape at the visit over between."""

    because: Because | None
    between_count: int
    b10_ratio: float | None
    median_ratio: float | None
    shape_ratio: float | None
    is_misleading: bool | None


@dataclass(frozen=True)
class Interval:
    """One stretch in which failures lie: the curve falls somewhere inside, to `surviving_share` at its end."""

    from_at: float
    to_at: float
    surviving_share: float
    low: float | None
    high: float | None
    at_risk: int


@dataclass(frozen=True)
class IntervalCurve:
    """Turnbull's curve, for failures known only to lie between two visits; it holds given that `given_at` was reached."""

    because: Because | None
    given_at: float | None
    points: list[Interval]
    b10: Estimate
    median: Estimate


@dataclass(frozen=True)
class FailedPoint:
    """The share failed of one mechanism by `at`."""

    at: float
    failed_share: float
    low: float | None
    high: float | None
    at_risk: int
    failed: int
    is_drawn: bool


@dataclass(frozen=True)
class Mechanism:
    """Cumulative incidence of one mechanism among the others; `not_recorded` where the log does not say."""

    mechanism: str
    failures: int
    curve: list[FailedPoint]


@dataclass(frozen=True)
class Place:
    """A rank, 1 for the longest life or the greatest share, with its limits; all null where none can be given."""

    rank: int | None
    low: int | None
    high: int | None
    best_chance: float | None


@dataclass(frozen=True)
class PooledLife:
    """Lives that borrow from the other groups of the answer: one Weibull shape, rates from one distribution."""

    because: Because | None
    b10: Estimate
    median: Estimate
    place: Place


@dataclass(frozen=True)
class PooledShare:
    """Shares that borrow from the other groups of the answer."""

    because: Because | None
    same_day: Estimate
    durable: Estimate
    place: Place


@dataclass(frozen=True)
class WeibullByCluster:
    """A Weibull fit with limits by controller or site.

    design_effect: as in `ByController`, of the log of B10. width_ratio: how many times as wide its limits are, on the log
    of B10, as those of independent spells.
    """

    because: Because | None
    shape: Estimate
    b10: Estimate
    median: Estimate
    design_effect: float | None
    width_ratio: float | None


@dataclass(frozen=True)
class ByController:
    """The same curve with limits that do not take the sticks of one controller for independent.

    design_effect: the variance by controller over that of independent spells, at the median, else at B10. For cleaning
    success `share` is the same-day share; for lives b10 and median. weibull: of lives, where a law could be fitted or why not.
    """

    because: Because | None
    controllers: int
    design_effect: float | None
    b10: Estimate | None = None
    median: Estimate | None = None
    share: Estimate | None = None
    weibull: WeibullByCluster | None = None


@dataclass(frozen=True)
class BySite:
    """The same with limits by site; `sites` counts those known. Its limits are for sites like these, if there are enough."""

    because: Because | None
    sites: int
    design_effect: float | None
    b10: Estimate | None = None
    median: Estimate | None = None
    share: Estimate | None = None
    weibull: WeibullByCluster | None = None


@dataclass(frozen=True)
class Frailty:
    """How much controllers differ: variance of a common factor (mean 1), and the Weibull shape with and without it."""

    because: Because | None
    variance: Estimate
    shape: Estimate
    shape_ignoring: Estimate


@dataclass(frozen=True)
class MeanPoint:
    """Mean number of failures per controller by `at`."""

    at: float
    mean_count: float
    low: float | None
    high: float | None
    at_risk: int
    failed: int
    is_drawn: bool


@dataclass(frozen=True)
class TrendPart:
    """Whether failures come more often with age: getting_more_frequent, getting_rarer, no_trend_shown or too_few."""

    because: Because | None
    verdict: str
    p_value: float | None
    shape: Estimate
    tested: int


@dataclass(frozen=True)
class MeanCumulative:
    """Mean number of failures per controller since the age `counted_from`, with robust limits; `overall` at `drawn_to`."""

    because: Because | None
    units: int
    failures: int
    counted_from: float | None
    drawn_to: float | None
    overall: Estimate
    curve: list[MeanPoint]
    trend: TrendPart


@dataclass(frozen=True)
class Standardised:
    """Same-day success had all failures been cleaned, by the mix of severity of all; lowest: untried = failed."""

    because: Because | None
    failures: int
    tried: int
    tried_share: float | None
    standardised: Estimate
    lowest: Estimate
    borrowed_share: float | None


@dataclass(frozen=True)
class MechanismTest:
    """Gray's test of one mechanism across the groups of the answer.

    failures: of the mechanism, of those tested; late: spells first watched at a later age, which the test leaves out.
    """

    mechanism: str
    because: Because | None
    statistic: float | None
    degrees_of_freedom: int | None
    p_value: float | None
    failures: int
    late: int


@dataclass(frozen=True)
class CommonShape:
    """The Weibull shape that the groups share, whether that is plausible, and the lives of a group never seen."""

    because: Because | None
    shape: Estimate
    is_plausible: bool | None
    p_value: float | None
    unseen_b10: Estimate
    unseen_median: Estimate


@dataclass(frozen=True)
class ClockQuestion:
    """Whether sticks age by hours or by days: life in days goes with (hours a day)^coefficient, −1 hours, 0 days."""

    because: Because | None
    verdict: str
    coefficient: Estimate
    failures: int


@dataclass(frozen=True)
class MeanDifference:
    """Mean failures per controller of the second group less those of the first, at `compared_at`."""

    because: Because | None
    first: dict[str, str | int | None]
    second: dict[str, str | int | None]
    compared_at: float | None
    overall: Estimate
    is_shown: bool
