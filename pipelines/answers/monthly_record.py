"""The record of a month of the floor: the JSON contract, word for word."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import PricedRecord
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Cost:
    """Money of the month: work at the bench, parts and supplies, seats out of use (None: not recorded)."""

    labour: float
    parts: float
    downtime: float | None
    total: float


@dataclass(frozen=True)
class MonthPart:
    """The month of one site, or (site None, is_whole) of all of them.

    rate: faults for 1,000 of the clock; against_before, against_mean: its ratio to the month before and to all months before in
    the record's year; change, change_from_mean: in one word. hours_down: by a stick, other_hours_down: by another cause,
    open_stops: seats without an end on record since an earlier month, not in the hours; None where the log has no downtime.
    cost_per_hour and its ratios: money for each of the clock; because: why no cost is told.
    """

    is_whole: bool
    site: str | None
    units: int
    faults: int
    exposure: float
    rate: Estimate
    against_before: Estimate
    against_mean: Estimate
    change: str
    change_from_mean: str
    jobs: int
    modules: int
    hours_down: float | None
    other_hours_down: float | None
    open_stops: int | None
    because: Because | None
    cost: Cost | None
    cost_per_hour: Estimate
    cost_against_before: Estimate
    cost_against_mean: Estimate


@dataclass(frozen=True)
class MonthPoint:
    """One month of all sites; cost_per_hour at the prices of the month asked for, None where it is not told."""

    month: str
    faults: int
    exposure: float
    rate: Estimate
    jobs: int
    modules: int
    hours_down: float | None
    cost_per_hour: float | None


@dataclass(frozen=True)
class Monthly(PricedRecord):
    """The whole answer. months_before: whole months of the log before it, at most 12; sites: a list, sorted by name."""

    clock: str
    month: str
    months_before: int
    whole: MonthPart
    sites: list[MonthPart]
    history: list[MonthPoint]
