"""The record of planned cleaning: the JSON contract, word for word. Money in the log's currency, for one stick."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import PricedRecord
from pipelines.decisions.cleaning_interval import Planned
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Restored:
    """What a planned clean gives back. depth: of the clean, None where none is on record; cleans: that tell of it; share: of
    the age, refused where it cannot be told; is_given: by a setting."""

    depth: str | None
    cleans: int
    share: Estimate
    is_given: bool


@dataclass(frozen=True)
class Harm:
    """The share of planned cleans that cause a fault; cleans: that tell of it; is_given: by a setting."""

    share: Estimate
    cleans: int
    is_given: bool


@dataclass(frozen=True)
class Use:
    """Controllers, those with a metered use, and the play hours a week that 10 %, half and 90 % of these stay under."""

    units: int
    metered: int
    low_h: float | None
    median_h: float | None
    high_h: float | None


@dataclass(frozen=True)
class Slot:
    """An interval that people keep. days: of it; interval: in the clock's unit at the usual use; saving: of the cost of waiting;
    is_as_good: hardly dearer than the best; low_days, high_days: `interval` for much and for little played controllers, None
    where days are the clock."""

    days: float
    interval: float
    saving: Estimate
    is_as_good: bool
    low_days: float | None
    high_days: float | None


@dataclass(frozen=True)
class IntervalGroup:
    """One group. costs: `planned` and `fault`, money, None where something was not given; put_right: faults by what put them
    right; planned, slot: None where nothing can be weighed, slot also where waiting costs least."""

    by: dict[str, str | None]
    because: Because | None
    sentence: str
    counts: dict[str, int]
    is_by_cause: bool
    shape: Estimate
    restored: Restored
    harm: Harm
    put_right: dict[str, int]
    costs: dict[str, float] | None
    use: Use
    planned: Planned | None
    slot: Slot | None


@dataclass(frozen=True)
class CleaningInterval(PricedRecord):
    """The whole answer, of own controllers. left_out: controllers that are `not_own`."""

    clock: str
    by: list[str]
    left_out: dict[str, int]
    groups: list[IntervalGroup]
