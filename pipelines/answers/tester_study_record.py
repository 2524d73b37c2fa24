"""The record of a study of the tester: the JSON contract, word for word. Readings in % of half-scale (linearity: of span)."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import StudyVerdict


@dataclass(frozen=True)
class StudyCase:
    """What was asked about. limit_origin: `case`, `setting`, `limits` (the table), or None: there is none to go by."""

    measure: str | None
    limit: float | None
    is_upper: bool
    limit_origin: str | None


@dataclass(frozen=True)
class StudySize:
    """What the analysis is of; left out are sticks and persons without all readings, and readings beyond `repeats`."""

    sticks: int
    persons: int
    repeats: int
    readings: int
    left_out_sticks: int
    left_out_persons: int
    left_out_readings: int


@dataclass(frozen=True)
class Component:
    """A part of the spread: `repeat`, `person`, `interaction`, `between_persons` (both), `tester` (with repeats), `stick`, or
    `total`.

    sd: standard deviation; spread_share: of that of all readings, 0 to 1; shares do not add up, their squares do.
    """

    name: str
    sd: Estimate
    spread_share: Estimate


@dataclass(frozen=True)
class AnalysisRow:
    """A row of the analysis of variance: `stick`, `person`, `interaction`, `repeat`."""

    name: str
    degrees_of_freedom: int
    sum_of_squares: float
    mean_square: float
    f: float | None
    p_value: float | None


@dataclass(frozen=True)
class Person:
    """difference: of the person's readings from the mean of all persons, on the same sticks."""

    name: str
    mean: float
    difference: Estimate


@dataclass(frozen=True)
class PassPoint:
    """Of a stick whose true value is `true_value`: the chance that one reading passes it."""

    true_value: float
    pass_chance: float
    low: float
    high: float


@dataclass(frozen=True)
class AtLimit:
    """What the tester's error does at the limit.

    unsure_from, unsure_to: a reading between them may lie on either side by the tester alone; tolerance_share: six of its
    standard deviations over the limit (refused of a lower one). Chances of sticks spread as those of the study: good_fails,
    bad_passes; false_fail_share of all; read_bad_share: of all, those that read beyond. curve: a list.
    """

    unsure_from: float
    unsure_to: float
    tolerance_share: Estimate
    good_fails: Estimate
    bad_passes: Estimate
    false_fail_share: Estimate
    read_bad_share: Estimate
    curve: list[PassPoint]


@dataclass(frozen=True)
class TesterStudy(AskedRecord):
    """The whole answer. measures: readings on record by measure; verdict: None where `because` says why there is none."""

    level: float
    case: StudyCase
    measures: dict[str, int]
    size: StudySize | None
    mean: float | None
    is_pooled: bool | None
    components: list[Component]
    classes: float | None
    allowed_share: float
    verdict: StudyVerdict | None
    analysis: list[AnalysisRow]
    persons: list[Person]
    at_limit: AtLimit | None
