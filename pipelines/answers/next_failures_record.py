"""The record of what will fail next and of the coming 13 weeks: the JSON contract, word for word."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord, Band
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class StickAhead:
    """A stick in service. since: what its age is counted from (a kind of spell).

    age: in h where hours_per_week is given, else in days; faults_before: on record of this stick; chance: of a fault within
    the days asked about.
    """

    rank: int
    unit_id: str
    stick: str
    family: str
    site: str | None
    usage_class: str | None
    since: str
    since_on: str
    age: float
    hours_per_week: float | None
    faults_before: int
    chance: Estimate


@dataclass(frozen=True)
class Ahead:
    """What the coming 13 weeks bring to one site, one family, one family at a site, or (no `by`) all: expected, with limits."""

    by: dict[str, str | None]
    sticks: int
    faults: Estimate
    jobs: Estimate
    modules: Estimate


@dataclass(frozen=True)
class Week:
    """Faults expected in one of the coming weeks."""

    ends_on: str
    faults: Estimate


@dataclass(frozen=True)
class PastQuarter:
    """Faults of past 13 weeks, and those that the laws expect of the sticks then in service."""

    ends_on: str
    observed: int
    expected: float


@dataclass(frozen=True)
class Tried:
    """The same answer as it would have been given 13 weeks before the end of the log, held against what came.

    expected, came: faults among the sticks within the days asked about; forecast, came_in_all: faults in the 13 weeks.
    """

    because: Because | None
    asked_on: str | None
    sticks: int
    expected: float | None
    came: int | None
    bands: list[Band]
    slope: Estimate
    brier: float | None
    plain_brier: float | None
    forecast: Estimate
    came_in_all: int | None
    is_within: bool | None


@dataclass(frozen=True)
class NextFailures(AskedRecord):
    """The whole answer. quarters, quarter_sd: what widens the intervals; season: how much will be played against the year."""

    level: float
    days: int
    counts: dict[str, int]
    soon: Estimate
    sticks: list[StickAhead]
    groups: list[Ahead]
    weeks: list[Week]
    quarters: list[PastQuarter]
    quarter_sd: float | None
    season: float | None
    tried: Tried | None
