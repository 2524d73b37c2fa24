"""Verdicts on batches and suppliers, at their edges."""

from __future__ import annotations

import pytest

from pipelines.decisions.batch_verdict import DAYS_PER_MONTH, judge_batch, judge_supplier
from pipelines.estimates.equal_age import BatchRatio
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import BatchVerdict, Because, SupplierVerdict


def judged(ratio: Estimate, p: float | None, *, information: float = 20.0, expected: float = 25.0, per_day: float = 0.05):
    one = BatchRatio(30, expected, 30, information, ratio, p, None)
    return judge_batch(one, p, false_discovery=0.1, needed=10, expected_per_day=per_day)


@pytest.mark.parametrize(
    ("ratio", "p", "verdict"),
    [
        (Estimate(2.0, 1.4, 2.9), 0.01, BatchVerdict.WORSE),
        (Estimate(None, 1.4, None, Because.LIMIT_NOT_REACHED), 0.01, BatchVerdict.WORSE),
        (Estimate(0.5, 0.3, 0.8), 0.1, BatchVerdict.BETTER),
        (Estimate(0.0, 0.0, 0.7), 0.01, BatchVerdict.BETTER),
        (Estimate(2.0, 1.4, 2.9), 0.11, BatchVerdict.NOT_SHOWN),
        # among few batches the adjusted value may pass where the limits hold 1
        (Estimate(2.0, 0.9, 4.0), 0.08, BatchVerdict.NOT_SHOWN),
        (Estimate.refused(Because.NO_FAILURES), None, BatchVerdict.NOT_SHOWN),
    ],
)
def test_who_stands_out_is_worse_or_better(ratio, p, verdict):
    assert judged(ratio, p).verdict is verdict


def test_with_too_little_on_record_nothing_is_told_and_what_it_takes_is():
    young = judged(Estimate(1.0, 0.4, 2.5), 0.9, information=4.0, expected=5.0)
    assert young.verdict is BatchVerdict.CANNOT_TELL
    assert young.more_failures == pytest.approx((10 - 4) * 5 / 4)
    assert young.more_months == pytest.approx(7.5 / 0.05 / DAYS_PER_MONTH)
    assert judged(Estimate(2.0, 1.4, 2.9), 0.01, information=1.0).verdict is BatchVerdict.WORSE
    gone = judged(Estimate.refused(Because.NO_FAILURES), None, information=0.0, expected=0.0, per_day=0.0)
    assert (gone.more_failures, gone.more_months) == (10, None)


@pytest.mark.parametrize(
    ("rest", "worse", "verdict"),
    [
        (Estimate(1.5, 1.1, 2.0), 1, SupplierVerdict.WORSE),
        (Estimate(1.5, 0.9, 2.0), 1, SupplierVerdict.BATCHES),
        (Estimate(1.5, 0.9, 2.0), 0, SupplierVerdict.NOT_SHOWN),
        (Estimate(0.5, 0.3, 0.8), 0, SupplierVerdict.BETTER),
        (Estimate(0.5, 0.3, 0.8), 1, SupplierVerdict.BATCHES),
        (Estimate.refused(Because.ONE_SUPPLIER), 1, SupplierVerdict.BATCHES),
    ],
)
def test_a_supplier_is_judged_by_what_is_left_without_its_worse_batches(rest, worse, verdict):
    assert judge_supplier(rest, worse) is verdict
