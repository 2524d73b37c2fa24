"""Stock for a chosen chance: against the Poisson and the negative binomial law, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import nbinom, poisson

from pipelines.errors import InputError
from pipelines.estimates.stock import pace_draws, stock_for


def rng() -> np.random.Generator:
    return np.random.default_rng(5)


@pytest.mark.parametrize("chance", [0.5, 0.9, 0.95, 0.99])
def test_the_stock_is_the_quantile_of_the_demand(chance):
    every = np.arange(40)
    demand = np.repeat(every, np.round(poisson.pmf(every, 7.3) * 1e6).astype(int))
    assert stock_for(demand, fill_chance=chance) == poisson.ppf(chance, 7.3)


def test_it_is_the_least_that_meets_the_demand_often_enough():
    demand = np.array([0, 1, 1, 2, 5, 9, 9, 9, 12, 40])
    stock = stock_for(demand, fill_chance=0.8)
    assert (demand <= stock).mean() >= 0.8 > (demand <= stock - 1).mean()
    assert stock_for(np.zeros(5), fill_chance=0.95) == 0


def test_an_unknown_pace_gives_the_negative_binomial_law():
    drawn = pace_draws(np.array([4.0, 4.0]), periods=0.5, count=400_000, rng=rng())
    law = nbinom(8.5, 2 / (2 + 0.5))
    assert drawn.mean() == pytest.approx(law.mean(), rel=0.01)
    assert drawn.var() == pytest.approx(law.var(), rel=0.02)
    for chance in (0.9, 0.95, 0.99):
        assert stock_for(drawn, fill_chance=chance) == law.ppf(chance)


def test_periods_that_differ_beyond_chance_widen_it():
    even = pace_draws(np.array([20.0, 20, 20, 20]), periods=1, count=50_000, rng=rng())
    uneven = pace_draws(np.array([2.0, 50, 4, 24]), periods=1, count=50_000, rng=rng())
    assert uneven.mean() == pytest.approx(even.mean(), rel=0.05)
    assert uneven.std() > 2 * even.std()


@pytest.mark.parametrize("events", [[], [0, 0, 0, 0]])
def test_nothing_in_the_past_is_nothing_to_come(events):
    assert not pace_draws(np.array(events), periods=1, count=100, rng=rng()).any()


@pytest.mark.parametrize("chance", [0.0, 1.0, -1.0, float("nan")])
def test_a_chance_that_is_none_is_refused(chance):
    with pytest.raises(InputError):
        stock_for(np.array([1, 2]), fill_chance=chance)


@pytest.mark.parametrize("demand", [[], [-1.0, 2.0], [float("nan")]])
def test_demands_that_are_none_are_refused(demand):
    with pytest.raises(InputError):
        stock_for(np.array(demand), fill_chance=0.9)
    if demand:
        with pytest.raises(InputError):
            pace_draws(np.array(demand), periods=1, count=3, rng=rng())
