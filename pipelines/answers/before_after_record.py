"""The record of a programme and of what came of it: the JSON contract, word for word."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.detail import MeanPoint
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Programme:
    """What was asked about: the day it began, the sides of equal length (first and last day), and who is in it.

    units: how many were named, None where none were; unknown: those of them that the log does not have among its own.
    """

    start: str
    span_days: int
    before: list[str]
    after: list[str]
    site: str | None
    family: str | None
    units: int | None
    unknown: list[str]


@dataclass(frozen=True)
class Side:
    """Faults of the units on one side, hours or days watched, and the rate for 1,000 of them."""

    faults: int
    exposure: float
    rate: Estimate


@dataclass(frozen=True)
class Watched:
    """Units watched on both sides: before, after, and the ratio of the rates."""

    units: int
    before: Side
    after: Side
    ratio: Estimate


@dataclass(frozen=True)
class Fair:
    """What was to be expected after without the programme, and what came over it.

    shrunk_share: the fall that chance alone brings to units picked for a bad spell; others_change: of the others' faults; both
    None where they are not taken off. halving_power: the chance that a halving would have been shown.
    """

    expected_faults: float | None
    shrunk_share: float | None
    others_change: float | None
    ratio: Estimate
    halving_power: float


@dataclass(frozen=True)
class MeanCounts:
    """Mean faults of a controller since each side began, and the difference, after less before, at the last common point."""

    because: Because | None
    before: list[MeanPoint]
    after: list[MeanPoint]
    compared_at: float | None
    difference: Estimate
    is_shown: bool


@dataclass(frozen=True)
class BeforeAfter(AskedRecord):
    """The whole answer."""

    clock: str
    level: float
    case: Programme
    verdict: str
    watched: Watched
    others: Watched | None
    fair: Fair
    mean_counts: MeanCounts
    left_out: dict[str, int]
