"""Bins made of quantiles hold what the distribution has between their edges, one of which is 0."""

import numpy as np
import pytest
from scipy import stats

from pipelines.errors import InputError
from pipelines.estimates.bins import binned

STEPS = np.arange(1, 100) / 100


def normal(mean=130.0, sd=100.0):
    return stats.norm.ppf(STEPS, mean, sd)


def test_bins_of_a_normal_distribution_hold_what_scipy_says():
    bins = binned(normal())
    low, high = np.array([one.low for one in bins]), np.array([one.high for one in bins])
    exact = np.diff(stats.norm.cdf([*low, high[-1]], 130, 100))
    assert [one.share for one in bins[1:-1]] == pytest.approx(exact[1:-1].tolist(), abs=0.004)
    assert sum(one.share for one in bins) == pytest.approx(1)
    assert 15 <= len(bins) <= 50


@pytest.mark.parametrize("mean", [-500.0, -13.7, 0.0, 13.7, 100.0, 900.0])
def test_what_lies_below_0_is_the_bins_below_0(mean):
    bins = binned(normal(mean))
    assert not any(one.low < 0 < one.high for one in bins)
    assert sum(one.share for one in bins if one.high <= 0) == pytest.approx(stats.norm.cdf(-mean / 100), abs=0.004)


def test_draws_and_numpys_histogram_agree_with_their_quantiles():
    draws = np.random.default_rng(1).gamma(3, 20, 20_000) - 30
    bins = binned(np.quantile(draws, STEPS))
    counted = np.histogram(draws, [one.low for one in bins] + [bins[-1].high])[0] / len(draws)
    assert [one.share for one in bins[1:-1]] == pytest.approx(counted[1:-1].tolist(), abs=0.004)


def test_rescaled_quantiles_give_rescaled_bins():
    small, large = binned(normal(1, 1)), binned(normal(1000, 1000))
    assert [1000 * one.low for one in small] == pytest.approx([one.low for one in large])
    assert [one.share for one in small] == pytest.approx([one.share for one in large])


def test_what_never_varies_gives_one_bin():
    assert [(one.low, one.high, one.share) for one in binned([-3.5] * 7)] == [(-3.5, -3.5, 1.0)]


@pytest.mark.parametrize("quantiles", [[], [1.0], [1.0, np.nan], [0.0, np.inf], [2.0, 1.0]])
def test_what_is_no_quantiles_is_refused(quantiles):
    with pytest.raises(InputError, match="no quantiles"):
        binned(quantiles)
