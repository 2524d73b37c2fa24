"""Faults to come: against the closed form of Weibull lives, renewal theory, and quarters whose differences are known."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.coming_faults import (
    DRIFT_SD,
    Shock,
    Sticks,
    expected_faults,
    fault_chances,
    futures,
    quarter_shock,
    shock_factors,
    total_of,
)
from pipelines.estimates.fault_laws import FaultLaws
from pipelines.vocabulary import Because

DRAWS = 2000


def laws(*cells: tuple[float, float]) -> FaultLaws:
    """Return laws that are known: (shape, scale) of each cell."""
    shape, scale = (np.tile(np.log(one), (DRAWS, 1)) for one in zip(*cells, strict=True))
    return FaultLaws(None, {}, shape, scale, ())


def sticks(age, pace=1.0, cell=0, cleaned=0, new=0) -> Sticks:
    age = np.asarray(age, dtype=float)
    return Sticks(age, np.full(len(age), float(pace)), *(np.full(len(age), one) for one in (cell, cleaned, new)))


def ones(number: int) -> np.ndarray:
    return np.ones((DRAWS, number))


def test_a_chance_is_that_of_a_weibull_life_given_its_age():
    ages = np.array([0.0, 100.0, 900.0, 4000.0])
    found = fault_chances(sticks(ages, pace=3.0), laws((1.8, 1000.0)), ones(4), days=30)
    exact = 1 - np.exp((ages / 1000) ** 1.8 - ((ages + 90) / 1000) ** 1.8)
    assert [one.estimate for one in found] == pytest.approx(exact)
    assert [one.low for one in found] == pytest.approx(exact)


def test_the_order_of_sticks_and_the_unit_of_time_do_not_matter():
    ages = np.array([10.0, 700.0, 250.0])
    plain = [one.estimate for one in fault_chances(sticks(ages), laws((1.5, 500.0)), ones(3), days=30)]
    other = fault_chances(sticks(ages[::-1] * 24, pace=24.0), laws((1.5, 12_000.0)), ones(3), days=30)
    assert [one.estimate for one in other][::-1] == pytest.approx(plain)


def test_a_factor_multiplies_the_hazard_and_what_is_not_known_of_it_widens_the_limits():
    factor = np.random.default_rng(1).gamma(4, 0.25, (DRAWS, 1))
    (found,) = fault_chances(sticks([500]), laws((2.0, 1000.0)), factor, days=100, level=0.9)
    hazard = 0.6**2 - 0.5**2
    assert found.estimate == pytest.approx(1 - (1 + hazard / 4) ** -4, rel=0.02)
    assert (found.low, found.high) == pytest.approx(tuple(1 - np.exp(-np.quantile(factor, [0.05, 0.95]) * hazard)))


def test_constant_hazards_give_a_poisson_number_of_faults():
    rng = np.random.default_rng(4)
    events = futures(sticks(np.zeros(40)), laws((1.0, 200.0)), ones(40), np.full((DRAWS, 40), 0.3), days=91, rng=rng)
    number = np.bincount(events.future, minlength=DRAWS)
    assert number.mean() == pytest.approx(40 * 91 / 200, rel=0.02)
    assert number.var() == pytest.approx(number.mean(), rel=0.1)
    assert events.is_part.mean() == pytest.approx(0.3, abs=0.01)
    assert events.day.min() >= 0
    assert events.day.max() <= 91
    assert events.day.mean() == pytest.approx(45.5, rel=0.02)


def test_first_faults_follow_the_law_and_later_ones_that_of_what_was_done():
    known = laws((2.0, 100.0), (1.0, 1e9), (1.0, 10.0))
    rng = np.random.default_rng(6)
    never = futures(sticks([50.0], cleaned=1, new=1), known, ones(1), np.zeros((DRAWS, 1)), days=91, rng=rng)
    chance = 1 - np.exp(0.5**2 - 1.41**2)
    assert len(never.day) / DRAWS == pytest.approx(chance, abs=0.02)
    often = futures(sticks([50.0], cleaned=1, new=2), known, ones(1), np.ones((DRAWS, 1)), days=91, rng=rng)
    # after the first fault a new one every ten days
    first = np.linspace(0, 91, 2001)
    density = -np.gradient(np.exp(0.5**2 - ((50 + first) / 100) ** 2), first)
    assert len(often.day) / DRAWS == pytest.approx(np.trapezoid(density * (1 + (91 - first) / 10), first), rel=0.05)


def test_expected_faults_are_those_of_one_law_whatever_is_drawn():
    found = expected_faults(sticks([0.0, 50.0]), laws((1.5, 100.0)), 2 * ones(2), days=50)
    assert found[0] == pytest.approx(2 * np.array([0.5**1.5, 1 - 0.5**1.5]))


def test_nobody_in_service_or_no_fault_at_all_is_no_event():
    rng = np.random.default_rng(1)
    for one, number in ((sticks([]), 0), (sticks([0.0]), 1)):
        events = futures(one, laws((1.0, 1e12)), ones(number), np.zeros((DRAWS, number)), days=91, rng=rng)
        assert len(events.day) == len(events.future) == 0
    assert total_of(np.empty(0), level=0.9).because is Because.NO_SPELLS
    assert total_of(np.zeros(50), level=0.9).high == 0


def test_quarters_like_chance_have_no_shock_and_others_theirs():
    rng = np.random.default_rng(9)
    even = [quarter_shock(rng.poisson(400, 8), np.full(8, 400.0)).sd for _ in range(300)]
    assert np.mean(np.square(even)) < 0.001
    true = np.exp(rng.normal(0, 0.2, (300, 8)))
    wild = [quarter_shock(rng.poisson(400 * one), np.full(8, 400.0)).sd for one in true]
    assert np.sqrt(np.mean(np.square(wild))) == pytest.approx(0.2, rel=0.06)


@pytest.mark.parametrize("between", [0.0, 0.2])
def test_the_level_of_the_last_year_is_as_sure_as_it_says(between):
    """Years that drift by the prior, quarters that differ besides: what is left over is as wide as `level_sd` says."""
    rng = np.random.default_rng(11)
    drift = rng.normal(0, DRIFT_SD, 600)
    seen = 400 * np.exp(rng.normal(0, between, (600, 8)) + np.outer(drift, np.arange(8) >= 4))
    found = [quarter_shock(row, np.full(8, 400.0)) for row in rng.poisson(seen)]
    left = [(true - one.level) / one.level_sd for true, one in zip(drift, found, strict=True)]
    assert np.sqrt(np.mean(np.square(left))) == pytest.approx(1, abs=0.15)


def test_few_quarters_tell_nothing_and_those_without_expectation_do_not_count():
    assert quarter_shock([5, 6, 7], [5.0, 6, 7]) == Shock(None, 0.0, 0.0, 3)
    assert quarter_shock([0, 5, 6, 7], [0.0, 5.0, 6, 7]).sd is None
    assert (shock_factors(Shock(None, 0.0, 0.0, 2), count=5, rng=np.random.default_rng(1)) == 1).all()
    assert quarter_shock([], []).quarters == 0


def test_the_last_year_moves_the_level_as_far_as_chance_does_not_explain_it():
    strong = quarter_shock([1200] * 4, [1000.0] * 4)
    assert np.exp(strong.level) == pytest.approx(1.2, rel=0.01)
    assert np.exp(quarter_shock([12] * 4, [10.0] * 4).level) == pytest.approx(1.05, abs=0.01)
    drawn = shock_factors(Shock(0.1, 0.0, 0.0, 6), count=100_000, rng=np.random.default_rng(2))
    low, high = np.quantile(np.log(drawn), [0.05, 0.95])
    # t with five degrees of freedom: 2.015
    assert (high - low) / 2 == pytest.approx(2.015 * 0.1 * np.sqrt(7 / 6), rel=0.03)
