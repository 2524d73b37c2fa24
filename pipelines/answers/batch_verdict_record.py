"""The record of a batch verdict: the JSON contract, word for word. Ages in the answer's clock."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import BatchVerdict as Verdict
from pipelines.vocabulary import Because, SupplierVerdict


@dataclass(frozen=True)
class BatchRow:
    """One batch. verdict: None where `because` says why it cannot be compared at all.

    received, fitted, modules, controllers, failures, watched: modules received, fitted, with a usable time, their controllers,
    failures among them, and those still watched at the end; observed, expected: failures with others of their age beside them,
    and those expected of it were it like the others; information: the failures expected of a batch held against a known law
    that would tell as much. p_adjusted: for all batches. is_reference: it counts among the others. b10_from: `own` fit or
    `shared_shape`. at_least: of a batch known only from failed modules, the least ratio, with its lower limit.
    shrunk, rank_low, rank_high: as it looks together with the other batches of its supplier, to put batches in order; rank 1
    fails most.
    """

    batch: str
    supplier: str | None
    part_type: str | None
    received_on: str | None
    is_mixed: bool
    is_on_record: bool
    same_code_as: str | None
    because: Because | None
    verdict: Verdict | None
    sentence: str
    received: int | None
    fitted: int
    modules: int
    controllers: int
    failures: int
    watched: int
    found_only: int
    observed: int | None
    expected: float | None
    information: float | None
    ratio: Estimate
    p_value: float | None
    p_adjusted: float | None
    is_reference: bool
    more_failures: float | None
    more_months: float | None
    b10: Estimate
    b10_from: str | None
    at_least: Estimate | None
    shrunk: Estimate | None
    rank_low: int | None
    rank_high: int | None


@dataclass(frozen=True)
class SupplierRow:
    """A supplier against a typical other one; batches of it, those worse, failures of its modules. rest: the same ratio without
    the batches found worse, of whatever supplier, with limits that hold for all suppliers together."""

    supplier: str
    batches: int
    worse: list[str]
    failures: int
    ratio: Estimate
    rest: Estimate
    verdict: SupplierVerdict
    sentence: str


@dataclass(frozen=True)
class SupplierView:
    """because: why suppliers are not compared; spread: SD of the log ratio between batches of a supplier."""

    because: Because | None
    sentence: str
    spread: Estimate
    rows: list[SupplierRow]


@dataclass(frozen=True)
class BatchVerdictAnswer(AskedRecord):
    """The whole answer. needed: failures that must be expected of a batch before it is said, among all that are compared, not to
    differ; alikeness: how many times as large the variance is because modules share controllers, over all batches.
    counts: batches by verdict; left_out: modules and failures.
    """

    clock: str
    level: float
    where: dict[str, list[str]]
    reference: str | None
    needed: int
    alikeness: float | None
    counts: dict[str, int]
    left_out: dict[str, int]
    batches: list[BatchRow]
    suppliers: SupplierView
