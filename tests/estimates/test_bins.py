"""Bins hold every draw once, with an edge at 0, as numpy's own histogram has them."""

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.bins import binned


def test_the_bins_are_those_of_a_histogram_over_the_same_edges():
    draws = np.random.default_rng(1).normal(30, 40, 20_000)
    bins = binned(draws)
    edges = np.array([one.low for one in bins] + [bins[-1].high])
    inner = np.histogram(draws, edges)[0] / len(draws)
    assert [one.share for one in bins[1:-1]] == pytest.approx(inner[1:-1].tolist())
    assert bins[0].share == pytest.approx((draws < edges[1]).mean())
    assert sum(one.share for one in bins) == pytest.approx(1)
    assert 20 <= len(bins) <= 60


@pytest.mark.parametrize("shift", [-500.0, -13.7, 0.0, 13.7, 500.0])
def test_what_lies_below_0_is_exactly_the_bins_below_0(shift):
    draws = np.random.default_rng(2).gamma(3, 20, 5_000) - 60 + shift
    bins = binned(draws)
    assert not any(one.low < 0 < one.high for one in bins)
    assert sum(one.share for one in bins if one.high <= 0) == pytest.approx((draws < 0).mean() if shift < 400 else 0)


def test_a_few_losses_far_out_are_not_lost_where_0_lies_beyond_the_bins():
    draws = np.r_[np.full(3, -900.0), np.linspace(100, 200, 9_997)]
    assert sum(one.share for one in binned(draws)) == pytest.approx(1)


def test_weights_count_as_repeated_draws():
    draws, times = np.arange(-50.0, 50.0), np.random.default_rng(3).integers(1, 9, 100)
    weighed, repeated = binned(draws, weights=times), binned(np.repeat(draws, times))
    assert [(one.low, one.high) for one in weighed] == [(one.low, one.high) for one in repeated]
    assert [one.share for one in weighed] == pytest.approx([one.share for one in repeated])


def test_rescaled_draws_give_rescaled_bins():
    draws = np.random.default_rng(4).normal(1, 1, 2_000)
    small, large = binned(draws), binned(1000 * draws)
    assert [1000 * one.low for one in small] == pytest.approx([one.low for one in large])
    assert [one.share for one in small] == pytest.approx([one.share for one in large])


def test_draws_all_alike_give_one_bin():
    assert [(one.low, one.high, one.share) for one in binned(np.full(7, -3.5))] == [(-3.5, -3.5, 1.0)]


@pytest.mark.parametrize("draws", [[], [1.0, np.nan], [np.inf, 1.0]])
def test_no_draws_are_refused(draws):
    with pytest.raises(InputError, match="no draws"):
        binned(np.array(draws))
