"""Laws of counts with a given mean and variance: against scipy, at the seams, and their limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pipelines.errors import InputError
from pipelines.estimates.many_tests import false_discovery
from pipelines.estimates.matched_counts import at_least, luck_limits, mid_p

COUNTS = np.arange(0, 30)


def test_the_three_laws_are_those_of_scipy():
    mean = 6.0
    binomial = stats.binom(15, 0.4)
    assert at_least(COUNTS, mean, mean * 0.6) == pytest.approx(binomial.sf(COUNTS - 1), rel=1e-9, abs=1e-15)
    assert at_least(COUNTS, mean, mean) == pytest.approx(stats.poisson(mean).sf(COUNTS - 1), rel=1e-9)
    wide = stats.nbinom(4, 4 / (4 + mean))
    assert at_least(COUNTS, mean, wide.var()) == pytest.approx(wide.sf(COUNTS - 1), rel=1e-9)


@pytest.mark.parametrize("nearly", [1 - 1e-6, 1 + 1e-6])
def test_the_laws_meet_where_the_variance_is_the_mean(nearly):
    assert at_least(COUNTS, 6.0, 6.0 * nearly) == pytest.approx(at_least(COUNTS, 6.0, 6.0), rel=1e-3)


def test_mid_p_values_of_a_law_average_a_half():
    chance = -np.diff(np.append(at_least(np.arange(200), 6.0, 14.0), 0.0))
    assert chance @ mid_p(np.arange(200), 6.0, 14.0) == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize(("mean", "variance"), [(0.3, 0.3), (8.0, 8.0), (8.0, 30.0), (8.0, 5.0), (900.0, 2000.0)])
def test_limits_are_crossed_by_luck_as_seldom_as_they_say(mean, variance):
    low, high = (float(one[0]) for one in luck_limits(np.array([mean]), np.array([variance]), level=0.95))
    assert float(at_least(np.ceil(high), mean, variance)) <= 0.025 + 1e-9
    assert float(at_least(np.ceil(high) - 1, mean, variance)) > 0.025
    assert low == 0 or 1 - float(at_least(np.floor(low) + 1, mean, variance)) <= 0.025 + 1e-9


@pytest.mark.parametrize(("mean", "variance"), [(0.0, 1.0), (1.0, 0.0), (np.nan, 1.0), (np.inf, 1.0)])
def test_what_is_no_mean_or_variance_is_refused(mean, variance):
    with pytest.raises(InputError):
        at_least(3, mean, variance)


def test_p_values_for_many_agree_with_scipy():
    p = np.random.default_rng(1).beta(0.3, 1, 200)
    assert false_discovery(p) == pytest.approx(stats.false_discovery_control(p), rel=1e-12)
    assert len(false_discovery(np.array([]))) == 0
