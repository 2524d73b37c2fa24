"""What to say of a batch: worse, better, not shown to differ, or too little on record to tell; and of its supplier."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.estimates.equal_age import BatchRatio
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import BatchVerdict, SupplierVerdict

DAYS_PER_MONTH = 365.25 / 12


@dataclass(frozen=True)
class Judged:
    """more_failures: how many more failures, were it like the others, it takes to tell; more_months: how long that is at the pace
    of the modules still watched (None: none of them is). Both None where something is told, or nothing compared (verdict None).
    """

    verdict: BatchVerdict | None
    more_failures: float | None = None
    more_months: float | None = None


def judge_batch(
    ratio: BatchRatio, p_adjusted: float | None, *, false_discovery: float, needed: float, expected_per_day: float
) -> Judged:
    """Judge one batch. needed: failures that must be expected of a batch before one as bad as should be noticed would most
    likely be named, all batches being looked at.

    A batch that stands out, among all of them and with limits that leave 1 out, is worse or better at any age. One that does
    not, with less information than `needed`, may be either: it cannot be told yet, however few failures it has.
    """
    if p_adjusted is not None and p_adjusted <= false_discovery:
        if ratio.ratio.low is not None and ratio.ratio.low > 1:
            return Judged(BatchVerdict.WORSE)
        if ratio.ratio.high is not None and ratio.ratio.high < 1:
            return Judged(BatchVerdict.BETTER)
    if ratio.information >= needed:
        return Judged(BatchVerdict.NOT_SHOWN)
    each = ratio.expected / ratio.information if ratio.information > 0 else 1.0
    more = (needed - ratio.information) * each
    months = more / (expected_per_day * DAYS_PER_MONTH) if expected_per_day > 0 else None
    return Judged(BatchVerdict.CANNOT_TELL, more, months)


def judge_supplier(rest: Estimate, worse_batches: int) -> SupplierVerdict:
    """Judge one supplier. rest: its ratio without the batches that were found worse, of whatever supplier.

    The supplier it is where those others fail more often too; single batches it is where only they stand out.
    """
    if rest.low is not None and rest.low > 1:
        return SupplierVerdict.WORSE
    if worse_batches:
        return SupplierVerdict.BATCHES
    return SupplierVerdict.BETTER if rest.high is not None and rest.high < 1 else SupplierVerdict.NOT_SHOWN
