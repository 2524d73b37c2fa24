"""The record of what kind of worse a batch is: the JSON contract, word for word. Ages in the answer's clock."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.detail import FailedPoint
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class PairPoint:
    """Shares still free of failure at an age, batch and rest made alike, and batch less rest with the limits for this age alone
    and the band for all ages (null before it begins); at risk just before."""

    at: float
    batch: float
    batch_low: float
    batch_high: float
    rest: float
    rest_low: float
    rest_high: float
    difference: float
    low: float
    high: float
    band_low: float | None
    band_high: float | None
    batch_at_risk: int
    rest_at_risk: int


@dataclass(frozen=True)
class CurvePair:
    """Both curves, given those at `counted_from`, up to `compared_to`; differs_from, differs_to: the first and the last age of a
    point at which the band leaves 0 out, null where it never does."""

    because: Because | None
    sentence: str
    counted_from: float | None
    compared_to: float | None
    differs_from: float | None
    differs_to: float | None
    points: list[PairPoint]


@dataclass(frozen=True)
class EarlyFailures:
    """Shares failed by an age: the setting early_age, or that by which 5 % of the rest had; difference: batch less rest."""

    because: Because | None
    sentence: str
    age: float | None
    batch_share: Estimate
    rest_share: Estimate
    difference: Estimate


@dataclass(frozen=True)
class Pattern:
    """How the hazard ratio, batch over rest made alike, runs with age.

    batch_shape, rest_shape: Weibull shapes over the ages compared. change: how much the batch's shape is over the rest's, from
    the ratio itself, without a law for either; change_p: of no change. early_ratio, late_ratio: at the ages by which a tenth, and
    nine tenths, of the batch's failures had come. rates_cross: where the ratio is 1; curves_cross: where as many have failed.
    """

    because: Because | None
    batch_shape: Estimate
    rest_shape: Estimate
    change: Estimate
    change_p: float | None
    early_at: float | None
    early_ratio: Estimate
    late_at: float | None
    late_ratio: Estimate
    rates_cross: Estimate
    curves_cross: Estimate


@dataclass(frozen=True)
class MechanismRow:
    """One mechanism: failures of the batch, those expected of it, their ratio and their difference, the excess.

    p_adjusted: Holm's over the mechanisms; gray_p_adjusted: the same of Gray's test, plain, of modules watched from their fitting
    (null: gray_because). is_source: more failures than luck explains. curve, rest_curve: shares failed of it by age.
    """

    mechanism: str
    failures: int
    rest_failures: int
    expected: float
    ratio: Estimate
    excess: Estimate
    p_adjusted: float | None
    gray_p_adjusted: float | None
    gray_because: Because | None
    is_source: bool
    curve: list[FailedPoint]
    rest_curve: list[FailedPoint]


@dataclass(frozen=True)
class Mechanisms:
    """rows: the largest excess first; recorded, rest_recorded: compared failures of either side with a mechanism on record."""

    because: Because | None
    sentence: str
    recorded: int
    rest_recorded: int
    rows: list[MechanismRow]


@dataclass(frozen=True)
class BatchPattern(AskedRecord):
    """The whole answer. kind: see `decisions.batch_kind`; ratio: the one hazard ratio, as if it held at all ages.

    counts: modules, controllers, failures of the batch; compared_failures: of them beside others; rest_modules, rest_failures:
    in its cells; cells; alone: modules where no other is; drawn: modules of the rest used, where not all.
    """

    clock: str
    level: float
    where: dict[str, list[str]]
    batch: str
    reference: str | None
    kind: str
    counts: dict[str, int]
    ratio: Estimate
    pattern: Pattern
    early: EarlyFailures
    curves: CurvePair
    mechanisms: Mechanisms
