"""The verdict on a tester."""

from __future__ import annotations

import pytest

from pipelines.decisions.tester import verdict_on_tester
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, StudyVerdict


@pytest.mark.parametrize(
    ("share", "verdict"),
    [
        (Estimate(0.1, 0.05, 0.3), StudyVerdict.GOOD_ENOUGH),
        (Estimate(0.5, 0.31, 0.8), StudyVerdict.TOO_COARSE),
        (Estimate(0.1, 0.05, 0.31), StudyVerdict.CANNOT_TELL),
        (Estimate(0.5, 0.3, 0.8), StudyVerdict.CANNOT_TELL),
        (Estimate.refused(Because.NO_SPREAD), StudyVerdict.CANNOT_TELL),
    ],
)
def test_a_verdict_holds_at_both_limits(share, verdict):
    assert verdict_on_tester(share, 0.3) is verdict
