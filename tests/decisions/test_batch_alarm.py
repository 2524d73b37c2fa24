"""What the evidence against a batch says to do; the days are counted by eye."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.decisions.batch_alarm import LEAST_EXPECTED, Alarm, Limits, alarm_of
from pipelines.vocabulary import AlarmLevel

LIMITS = Limits(watch=20, stop=100)


@pytest.mark.parametrize(
    ("evidence", "expected", "alarm"),
    [
        ([1, 3, 20, 5, 1], 9, Alarm(AlarmLevel.WATCH, 2, None)),
        ([1, 25, 20, 150, 400], 9, Alarm(AlarmLevel.STOP, 1, 3)),
        ([1, 300], 1, Alarm(AlarmLevel.STOP, 1, 1)),
        ([1, 19.9], 9, Alarm(AlarmLevel.QUIET, None, None)),
        ([1, 2], LEAST_EXPECTED / 2, Alarm(AlarmLevel.TOO_EARLY, None, None)),
        ([1, 1], 0, Alarm(AlarmLevel.UNWATCHED, None, None)),
    ],
)
def test_an_alarm_once_raised_stands_and_silence_is_read_by_what_was_expected(evidence, expected, alarm):
    assert alarm_of(np.log(evidence), expected=expected, limits=LIMITS) == alarm
