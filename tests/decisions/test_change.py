"""The one word for a change."""

import pytest

from pipelines.decisions.change import Change, change_of
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@pytest.mark.parametrize(
    ("ratio", "power", "word"),
    [
        (Estimate(0.5, 0.3, 0.9), 0.1, Change.FEWER),
        (Estimate(1.5, 1.1, 2.0), 0.1, Change.MORE),
        (Estimate(0.9, 0.7, 1.1), 0.8, Change.NOT_SHOWN),
        (Estimate(0.9, 0.3, 2.1), 0.79, Change.CANNOT_TELL),
        (Estimate(None, None, 0.4, Because.NO_FAILURES), 0.1, Change.FEWER),
        (Estimate(None, 1.2, None, Because.NO_FAILURES), 0.1, Change.MORE),
        (Estimate.refused(Because.NO_FAILURES), 0.0, Change.CANNOT_TELL),
    ],
)
def test_limits_decide_and_power_tells_no_change_from_no_knowledge(ratio, power, word):
    assert change_of(ratio, power) is word
