"""The record of returns and the warranty they allow: the JSON contract, word for word."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.lot_money import Missing
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class ReturnPoint:
    """The share of sold units that came back by so many days after the sale; at_risk: watched just before."""

    at: float
    returned_share: float
    low: float | None
    high: float | None
    at_risk: int
    returned: int
    is_drawn: bool


@dataclass(frozen=True)
class Within:
    """Returns within so many days, for any reason and for a fault, and their cost for a sold unit; at_risk: watched so long."""

    days: int
    at_risk: int
    returned: Estimate
    returned_for_fault: Estimate
    cost: Estimate


@dataclass(frozen=True)
class Longest:
    """The most days of warranty that stay within the accepted cost; 0: not even one. allowed_share: of units that may come back.

    likely_days: by the estimate; sure_days: by its upper limit; is_likely_open, is_sure_open: the record ends there.
    """

    because: Because | None
    allowed_share: float | None
    likely_days: int | None
    sure_days: int | None
    is_likely_open: bool
    is_sure_open: bool


@dataclass(frozen=True)
class WarrantyGroup:
    """One group of first sales under warranty. told_to: the last day on which enough were watched; longest_given: warranty."""

    by: dict[str, str | None]
    because: Because | None
    sentence: str
    counts: dict[str, int]
    told_to: int
    longest_given: int
    returns: list[ReturnPoint]
    fault_returns: list[ReturnPoint]
    within: list[Within]
    longest: Longest


@dataclass(frozen=True)
class Warranty(AskedRecord):
    """The whole answer."""

    by: list[str]
    currency: str | None
    level: float
    asked_for: list[Missing]
    groups: list[WarrantyGroup]
