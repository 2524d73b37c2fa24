"""Shares with Wilson's limits; the published values stand in tests/published."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.proportion import normal_quantile, share, wilson
from pipelines.vocabulary import Because


def test_no_attempts_is_a_reason_and_not_a_number():
    one = share(0, 0)
    assert (one.share, one.low, one.high, one.because) == (None, None, None, Because.NO_ATTEMPTS)


@given(st.integers(1, 500), st.data())
def test_the_limits_lie_around_the_share_and_mirror_each_other(n, data):
    k = data.draw(st.integers(0, n))
    one, other = wilson(k, n), wilson(n - k, n)
    assert 0 <= one.low <= one.estimate <= one.high <= 1
    assert one.low == pytest.approx(1 - other.high, abs=1e-12)


def test_an_effective_number_of_attempts_may_be_a_fraction():
    below, between, above = wilson(5, 10), wilson(5.25, 10.5), wilson(5.5, 11)
    assert below.low < between.low < above.low


def test_none_of_n_and_all_of_n_have_exact_ends():
    assert wilson(0, 7).low == 0.0
    assert wilson(7, 7).high == 1.0


@pytest.mark.parametrize(("k", "n"), [(-1, 5), (6, 5), (float("nan"), 5)])
def test_an_impossible_share_is_refused(k, n):
    with pytest.raises(InputError, match="is not a share"):
        wilson(k, n)


@pytest.mark.parametrize("level", [0, 1, 95, -0.1])
def test_a_level_that_is_no_probability_is_refused(level):
    with pytest.raises(InputError, match="is not a probability"):
        wilson(1, 2, level=level)


def test_the_normal_quantile_of_95_percent_is_the_tabled_one():
    # Any table of the normal distribution: 1.959964.
    assert normal_quantile(0.95) == pytest.approx(1.959963984540054, abs=1e-12)
