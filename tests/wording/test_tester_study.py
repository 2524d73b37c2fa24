"""Words of the study of the tester."""

from __future__ import annotations

import pytest

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Measure
from pipelines.wording.tester_study import estimate_words, measure_words, part_words, reading_words, unit_words


@pytest.mark.parametrize(
    ("value", "said"), [(0.0, "0"), (-8e-05, "0"), (0.0123, "0.012"), (0.5, "0.50"), (-1.234, "-1.23"), (94, "94.0")]
)
def test_a_reading_has_as_many_digits_as_it_bears(value, said):
    assert reading_words(value) == said


def test_an_estimate_without_a_value_is_a_dash():
    assert estimate_words(Estimate.refused(Because.NOT_GIVEN)) == "–"
    assert estimate_words(Estimate(0.5, 0.2, 1.0)) == "0.50 (0.20 to 1.00)"


def test_every_part_and_measure_has_its_words():
    for name in ("repeat", "person", "interaction", "between_persons", "tester", "stick", "total"):
        assert part_words(name)
    assert [measure_words(one) for one in Measure] == ["rest offset", "jitter", "return spread", "reach", "linearity"]
    assert (unit_words("linearity"), unit_words("reach")) == ("% of span", "% of half-scale")
