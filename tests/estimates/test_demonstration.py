"""Tests that show a life: against a search, the limits they must reach, and modules that fail by a known law."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from pipelines.errors import InputError
from pipelines.estimates.demonstration import Demonstration, ShownLife, demonstrations
from pipelines.estimates.fixed_shape import fixed_shape

SHOWN = ShownLife(400, 0.1, 2.0, 0.9)


def one(shown: ShownLife, *, allowed: int = 0, time: float = 400, better: tuple[float, ...] = ()) -> Demonstration:
    return demonstrations(shown, failures_allowed=[allowed], test_times=[time], times_as_long=better)[0]


@pytest.mark.parametrize("allowed", [0, 1, 3])
@pytest.mark.parametrize("time", [150.0, 400.0, 900.0])
def test_the_test_is_the_smallest_that_holds_the_confidence(allowed, time):
    count = one(SHOWN, allowed=allowed, time=time).module_count
    failing = 1 - 0.9 ** ((time / 400) ** 2)
    assert binom.cdf(allowed, count, failing) <= 0.1 < binom.cdf(allowed, count - 1, failing)


@pytest.mark.parametrize("time", [200.0, 400.0, 700.0])
def test_a_test_without_failures_shows_the_life_by_weibayes(time):
    """Nelson's lower limit of B10 for so many unfailed modules lies at the life or above, and below it for one module fewer."""
    count = one(SHOWN, time=time).module_count
    limits = [
        fixed_shape(
            pd.DataFrame({"entry": [0.0], "lower": [time], "upper": [np.inf], "spell_count": [modules]}),
            by=[],
            shape=2,
            level=0.9,
        )[0].life.b10.low
        for modules in (count, count - 1)
    ]
    assert limits[0] >= 400 > limits[1]


def test_the_chance_to_pass_is_what_modules_of_that_life_do():
    plan = one(SHOWN, allowed=1, time=300, better=(1.0, 1.5))
    rng, scale = np.random.default_rng(2), 400 / (-np.log(0.9)) ** 0.5
    for times, chance in zip((1.0, 1.5), plan.pass_chance, strict=True):
        lives = times * scale * rng.weibull(2.0, size=(20_000, plan.module_count))
        assert ((lives <= 300).sum(axis=1) <= 1).mean() == pytest.approx(chance, abs=0.01)


def test_the_shape_does_not_matter_for_a_test_as_long_as_the_life():
    counts = {one(ShownLife(400, 0.1, shape, 0.9)).module_count for shape in (0.7, 2.0, 4.0)}
    assert counts == {22}


def test_a_test_that_no_number_of_modules_passes_is_left_out():
    assert demonstrations(SHOWN, failures_allowed=[0], test_times=[0.1]) == []


@pytest.mark.parametrize("words", [(0, 0.1, 2, 0.9), (400, 1.0, 2, 0.9), (400, 0.1, 50, 0.9), (400, 0.1, 2, 1.0)])
def test_what_cannot_be_shown_is_refused_in_words(words):
    with pytest.raises(InputError):
        ShownLife(*words)


def test_a_test_of_no_time_is_refused():
    with pytest.raises(InputError, match="cannot run"):
        one(SHOWN, time=0)
