"""A month against those before: closed forms, made years without a change, a slow trend, and months without anything."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.month_change import LEAST_MONTHS, cost_change, month_change
from pipelines.estimates.rate_ratio import rate, rate_ratio
from pipelines.vocabulary import Because


def is_shown(ratio) -> bool:
    return (ratio.high is not None and ratio.high < 1) or (ratio.low is not None and ratio.low > 1)


def test_months_as_even_as_chance_give_the_exact_limits():
    faults, hours = np.array([50] * 12 + [70]), np.full(13, 10.0)
    found = month_change(faults, hours)
    assert found.spread == 1.0
    assert found.rate == rate(70, 10.0)
    assert found.against_before == rate_ratio(70, 10.0, 50, 10.0)
    assert found.against_mean == rate_ratio(70, 10.0, 600, 120.0)


def test_the_spread_is_that_of_successive_months():
    """Months that jump by ±d about a mean m in one hour each: mean squared difference (2d)² over 2m."""
    faults = np.array([100 + 30, 100 - 30] * 6 + [100])
    assert month_change(faults, np.ones(13)).spread == pytest.approx(60**2 / 200)
    slow = np.arange(100, 230, 10)
    assert month_change(slow, np.ones(13)).spread == 1.0


@pytest.mark.parametrize(("mean", "sd"), [(3, 0.0), (30, 0.0), (300, 0.1), (3000, 0.3)])
def test_a_year_without_a_change_is_called_changed_in_at_most_the_stated_share(mean, sd):
    rng = np.random.default_rng(21)
    found = []
    for _ in range(500):
        hours = rng.uniform(0.8, 1.2, 13)
        change = month_change(rng.poisson(mean * hours * np.exp(rng.normal(0, sd, 13))), hours)
        found.append((is_shown(change.against_before), is_shown(change.against_mean)))
    assert (np.mean(found, axis=0) <= 0.05 + 3 * (0.05 * 0.95 / 500) ** 0.5).all()


def test_a_halved_month_is_found():
    rng = np.random.default_rng(22)
    mean = np.append(np.full(12, 200.0), 100.0)
    found = [
        is_shown(month_change(rng.poisson(mean * np.exp(rng.normal(0, 0.1, 13))), np.ones(13)).against_mean) for _ in range(200)
    ]
    assert np.mean(found) > 0.9


def test_costs_that_do_not_change_are_called_changed_in_at_most_the_stated_share():
    rng = np.random.default_rng(23)
    found = []
    for _ in range(500):
        hours = rng.uniform(0.8, 1.2, 13)
        each = [rng.gamma(2, 20, size) for size in rng.poisson(80 * hours * np.exp(rng.normal(0, 0.1, 13)))]
        cost, squares = np.array([one.sum() for one in each]), np.array([(one**2).sum() for one in each])
        change = cost_change(cost, squares, hours)
        assert change.per_hour.low < cost[-1] / hours[-1] < change.per_hour.high
        found.append((is_shown(change.against_before), is_shown(change.against_mean)))
    assert (np.mean(found, axis=0) <= 0.05 + 3 * (0.05 * 0.95 / 500) ** 0.5).all()


def test_costs_of_one_size_are_as_sure_as_their_number():
    """n costs of one size have a relative variance of 1 / n: the limits are those of log counts."""
    count, size = 40.0, 7.0
    found = cost_change(np.array([size * count]), np.array([size**2 * count]), np.array([10.0])).per_hour
    assert found.high / found.estimate == pytest.approx(np.exp(1.959964 / count**0.5), rel=1e-6)


def test_short_records_and_empty_months():
    nothing = month_change(np.array([]), np.array([]))
    assert nothing.rate.because is Because.NO_SPELLS
    first = month_change(np.array([5]), np.array([10.0]))
    assert first.against_before.because is first.against_mean.because is Because.NO_FOLLOW_UP
    assert first.rate == rate(5, 10.0)
    few = month_change(np.full(LEAST_MONTHS, 5), np.ones(LEAST_MONTHS))
    assert few.against_mean.because is Because.NO_FOLLOW_UP
    assert few.against_before.estimate == 1
    quiet = month_change(np.zeros(13), np.ones(13))
    assert quiet.rate.because is quiet.against_mean.because is Because.NO_FAILURES
    assert month_change(np.zeros(13), np.zeros(13)).rate.because is Because.NO_SPELLS
    free = cost_change(np.zeros(13), np.zeros(13), np.ones(13))
    assert free.per_hour.because is Because.NO_FAILURES
    assert cost_change(np.array([]), np.array([]), np.array([])).per_hour.because is Because.NO_SPELLS
    once = cost_change(np.append(np.zeros(12), 5.0), np.append(np.zeros(12), 25.0), np.ones(13))
    assert once.against_mean.because is Because.NO_FAILURES


def test_impossible_months_are_refused():
    for faults, hours in (([1, 2], [1.0]), ([-1, 2], [1.0, 1.0]), ([1, 2], [0.0, 1.0]), ([1.0, np.nan], [1.0, 1.0])):
        with pytest.raises(InputError):
            month_change(np.array(faults), np.array(hours))
    with pytest.raises(InputError):
        cost_change(np.ones(2), np.array([-1.0, 1.0]), np.ones(2))
