"""The answer record: the JSON contract, word for word. Every estimate and limit may be null with its own `because`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from enum import StrEnum
from typing import NamedTuple

import pandas as pd

from pipelines.answers.detail import (
    ByController,
    BySite,
    ClockQuestion,
    CommonShape,
    Dating,
    Frailty,
    IntervalCurve,
    MeanCumulative,
    MeanDifference,
    Mechanism,
    MechanismTest,
    PooledLife,
    PooledShare,
    Standardised,
)
from pipelines.answers.factors_record import FactorGroup
from pipelines.answers.laws_record import AssumedShape, LawPlot, Laws, SurvivingAt
from pipelines.answers.restoration_record import RestorationGroup
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


class CurvePoint(NamedTuple):
    """One step of a survival curve; `at` in the clock's unit, `at_risk` counted just before it."""

    at: float
    surviving_share: float
    low: float | None
    high: float | None
    at_risk: int
    failed: int
    censored: int
    is_drawn: bool


class CurvePoints(Sequence[CurvePoint]):
    """The steps of a survival curve, each made when it is read: an answer may have a hundred thousand and show a few."""

    def __init__(self, curve: pd.DataFrame) -> None:
        """curve: one row a step, with a column for each field of CurvePoint; NaN is a limit that is not there."""
        self._columns = [curve[name].to_numpy() for name in CurvePoint._fields]

    def __len__(self) -> int:
        return len(self._columns[0])

    def __getitem__(self, place: int | slice) -> CurvePoint | list[CurvePoint]:
        if isinstance(place, slice):
            return [self[one] for one in range(*place.indices(len(self)))]
        return _point(column[place].item() for column in self._columns)

    def __iter__(self) -> Iterator[CurvePoint]:
        return map(_point, zip(*(column.tolist() for column in self._columns), strict=True))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and list(self) == list(other)

    def __repr__(self) -> str:
        return repr(list(self))


def _point(values: Iterable[float | bool]) -> CurvePoint:
    at, share, low, high, *rest = values
    return CurvePoint(at, share, None if low != low else low, None if high != high else high, *rest)


@dataclass(frozen=True)
class WeibullPart:
    """A Weibull fit with likelihood-ratio limits; `log_likelihood` of densities in clock units, given entry ages."""

    because: Because | None
    shape: Estimate
    scale: Estimate
    b10: Estimate
    median: Estimate
    log_likelihood: float | None


@dataclass(frozen=True)
class LifePart:
    """A survival curve with what is read from it."""

    because: Because | None
    sentence: str
    counts: dict[str, int]
    curve: Sequence[CurvePoint]
    drawn_from: float | None
    curve_quantiles: dict[str, Estimate]
    weibull: WeibullPart


@dataclass(frozen=True)
class SameDay:
    """k of n attempts that passed their as-left test."""

    k: int
    n: int
    share: float | None
    low: float | None
    high: float | None
    because: Because | None


@dataclass(frozen=True)
class Durable:
    """Share of attempts that passed and still held at the horizon."""

    horizon: float
    unit: str
    share: float | None
    low: float | None
    high: float | None
    n_effective: float | None
    because: Because | None


@dataclass(frozen=True)
class LifeGroup:
    """One group of time-to-failure or recurrence."""

    by: dict[str, str | None]
    because: Because | None
    sentence: str
    counts: dict[str, int]
    curve: Sequence[CurvePoint]
    drawn_from: float | None
    curve_quantiles: dict[str, Estimate]
    weibull: WeibullPart
    since_first_seen: LifePart | None = None
    surviving_at: SurvivingAt | None = None
    laws: Laws | None = None
    law_plot: LawPlot | None = None
    assumed_shape: AssumedShape | None = None
    dating: Dating | None = None
    interval_curve: IntervalCurve | None = None
    by_mechanism: list[Mechanism] | None = None
    pooled: PooledLife | None = None
    by_controller: ByController | None = None
    by_site: BySite | None = None
    frailty: Frailty | None = None
    mean_cumulative: MeanCumulative | None = None


@dataclass(frozen=True)
class CleaningGroup:
    """One group of cleaning-success."""

    by: dict[str, str | None]
    because: Because | None
    sentence: str
    counts: dict[str, int]
    same_day: SameDay
    durable: Durable
    worn_track: SameDay
    pooled: PooledShare | None = None
    standardised: Standardised | None = None
    by_controller: ByController | None = None
    by_site: BySite | None = None


@dataclass(frozen=True)
class Answer:
    """The whole answer to one question."""

    question: str
    clock: str
    by: list[str]
    level: float
    log_start: str | None
    log_end: str | None
    settings: dict[str, object]
    where: dict[str, list[str]]
    left_out: dict[str, int]
    sentence: str
    warnings: list[str] = field(default_factory=list)
    groups: list[LifeGroup] | list[CleaningGroup] | list[RestorationGroup] | list[FactorGroup] = field(default_factory=list)
    common_shape: CommonShape | None = None
    clock_question: ClockQuestion | None = None
    mechanism_tests: list[MechanismTest] | None = None
    mean_difference: MeanDifference | None = None

    def to_dict(self) -> dict[str, object]:
        """Return plain dicts, lists, texts and numbers, ready for JSON."""
        return plain(self)


def plain(value):
    """Return a record as plain dicts, lists, texts and numbers."""
    if is_dataclass(value):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, CurvePoint):
        return value._asdict()
    if isinstance(value, list | tuple | CurvePoints):
        return [plain(one) for one in value]
    return value.value if isinstance(value, StrEnum) else value
