"""The sentence about hours or days."""

from __future__ import annotations

import pytest

from pipelines.answers.detail import ClockQuestion
from pipelines.estimates.estimate import Estimate
from pipelines.wording import clock


@pytest.mark.parametrize(
    ("verdict", "word"), [("hours", "by play hours"), ("days", "by days"), ("between", "partly"), ("neither", "neither")]
)
def test_a_clock_is_told_with_its_coefficient(verdict, word):
    said = clock.clock_sentence(ClockQuestion(None, verdict, Estimate(-0.6, -0.8, -0.4), 50), 0.95)
    assert word in said
    assert "−0.60" in said
