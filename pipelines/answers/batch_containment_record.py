"""The record of a batch to be contained: the JSON contract, word for word. Dates are ISO texts, money in the log's currency."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import PricedRecord
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import BatchVerdict, Because, Hold, Whereabouts


@dataclass(frozen=True)
class BatchCase:
    """What was asked about: the batch, and the days for which failures to come are told."""

    batch: str
    days: int


@dataclass(frozen=True)
class BatchTold:
    """What the table of deliveries says of it; None: nothing. is_mixed: its bins were mixed with others before use."""

    is_on_record: bool
    supplier: str | None
    part_type: str | None
    received_on: str | None
    unit_cost: float | None
    is_mixed: bool
    same_code_as: str | None


@dataclass(frozen=True)
class Stock:
    """found: came in without a fitting on record; left: received less fitted and found, None where nothing received is on record.

    Others may be out unseen where some were found so. Under 0: more are in use than came.
    """

    received: int | None
    fitted: int
    found: int
    left: int | None


@dataclass(frozen=True)
class Place:
    """A site (None: not recorded) and the controllers in service there that carry a module of the batch, or may."""

    site: str | None
    carries: int
    may_carry: int


@dataclass(frozen=True)
class HeldModule:
    """A module of the batch (hold fitted, found) or one that may be. label: the batch written; age: now, or when replaced."""

    hold: Hold
    label: str | None
    unit_id: str
    stick: str
    family: str | None
    site: str | None
    station: str | None
    state: Whereabouts
    fitted_on: str | None
    age_days: float | None
    age_h: float | None
    failures: int
    first_failed_on: str | None
    warranty_to: str | None


@dataclass(frozen=True)
class Excess:
    """First failures beyond those of others of the same age. because: why they cannot be told.

    verdict, ratio: as in batch-verdict; failures: of all its modules with a usable time, observed: of those with others beside
    them; expected: that the others would have had; so_far: observed beyond expected.
    """

    because: Because | None
    verdict: BatchVerdict | None
    failures: int
    observed: int | None
    expected: float | None
    ratio: Estimate
    so_far: Estimate


@dataclass(frozen=True)
class ToCome:
    """First failures within `days` of the modules that have not failed and are still watched: all, and beyond expected."""

    because: Because | None
    modules: int
    failures: Estimate
    excess: Estimate


@dataclass(frozen=True)
class Cost:
    """because: why none is told (`not_given`). per_failure: of one failure, all told; so_far, to_come: of those in excess."""

    because: Because | None
    per_failure: float | None
    so_far: Estimate
    to_come: Estimate


@dataclass(frozen=True)
class BatchContainment(PricedRecord):
    """The whole answer. counts: controllers in service that carry it (`units`), its modules in service (`modules`), of them those
    that failed before and were put right (`failed_before`), modules in service that may be of it (`may_carry`), its modules sold
    and under warranty (`in_warranty`); gone: state → its modules not in service; unrecorded, unrecorded_in_service: modules
    without a batch on record fitted while it was in stock.
    """

    clock: str
    case: BatchCase
    batch: BatchTold
    stock: Stock
    counts: dict[str, int]
    gone: dict[str, int]
    unrecorded: int
    unrecorded_in_service: int
    sites: list[Place]
    excess: Excess
    to_come: ToCome
    cost: Cost
    modules: list[HeldModule]
