"""Forecasts of failures and stocks against published examples; sources in cases.json.

What they prove: that chances and expected failures of the coming weeks are those of the printed laws, that with laws known
for certain the limits are the naive ones, and that a known demand gives the stock of the Poisson table; what is not known of the
laws can then only widen them.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

from pipelines.estimates.coming_faults import Sticks, expected_faults, fault_chances, futures, total_of
from pipelines.estimates.fault_laws import FaultLaws
from pipelines.estimates.stock import stock_for
from tests.published.cases import load_case, rows_of

DRAWS = 1500


def known(shape: float, scale: float, *, draws: int) -> FaultLaws:
    return FaultLaws(None, {}, np.full((draws, 1), np.log(shape)), np.full((draws, 1), np.log(scale)), ())


def good(age: np.ndarray) -> Sticks:
    return Sticks(age, np.ones(len(age)), *(np.zeros(len(age), dtype=int) for _ in range(3)))


def test_the_chance_of_a_unit_and_the_expected_failures_of_its_fleet():
    case = load_case("pred_productA")
    data, told = case.params, case.expected
    laws = known(data["beta"], data["eta"], draws=1)
    (one,) = fault_chances(good(np.array([float(data["t0"])])), laws, np.ones((1, 1)), days=data["t1"] - data["t0"])
    assert one.estimate == pytest.approx(told["rho"], rel=case.rel_tol)
    assert data["n_at_risk"] * one.estimate == pytest.approx(told["expected"], rel=case.rel_tol)
    for found, printed in ((one.estimate, case.published["rho"]), (data["n_at_risk"] * one.estimate, case.published["expected"])):
        assert found == pytest.approx(printed["value"], abs=printed["abs_tol"])


def test_simulated_futures_have_the_naive_limits_where_the_law_is_certain():
    case = load_case("pred_productA")
    data, told = case.params, case.expected
    units = data["n_at_risk"]
    # the same fleet in 40 parts, so that a future is one row of few numbers
    drawn = np.zeros(DRAWS, dtype=int)
    rng = np.random.default_rng(7)
    for part in np.array_split(np.arange(units), 40):
        events = futures(
            good(np.full(len(part), float(data["t0"]))), known(data["beta"], data["eta"], draws=DRAWS),
            np.ones((DRAWS, len(part))), np.zeros((DRAWS, len(part))), days=data["t1"] - data["t0"], rng=rng,
        )  # fmt: skip
        drawn += np.bincount(events.future, minlength=DRAWS)
    found = total_of(drawn, level=0.9)
    assert found.estimate == pytest.approx(told["expected"], rel=0.02)
    assert found.low == pytest.approx(told["naive_lo"], abs=1)
    assert found.high == pytest.approx(told["naive_hi"], abs=1)


def test_expected_failures_over_many_ages():
    case = load_case("pred_bearingcage")
    rows = rows_of(case)
    laws = known(case.params["beta"], case.params["eta"], draws=1)
    age, weight = rows["hours"].to_numpy(dtype=float), rows["weight"].to_numpy(dtype=float)
    hazard = expected_faults(good(age), laws, np.ones((1, len(age))), days=case.params["horizon"])[0]
    chance = np.array([
        one.estimate for one in fault_chances(good(age), laws, np.ones((1, len(age))), days=case.params["horizon"])
    ])  # fmt: skip
    assert chance == pytest.approx(-np.expm1(-hazard))
    assert weight @ chance == pytest.approx(case.expected["expected"], rel=case.rel_tol)
    assert chance.max() == pytest.approx(case.expected["max_rho"], rel=case.rel_tol)
    assert weight @ chance == pytest.approx(case.published["expected"]["value"], abs=case.published["expected"]["abs_tol"])


def test_the_stock_of_a_known_demand_is_that_of_the_table():
    case = load_case("stock_poisson")
    for mean, row in zip(case.params["mean"], case.expected["stock"], strict=True):
        every = np.arange(60)
        # each demand as often as its Poisson share says
        demand = np.repeat(every, np.round(poisson.pmf(every, mean) * 1e6).astype(int))
        assert [stock_for(demand, fill_chance=level) for level in case.params["level"]] == row
    for name, (mean, stock) in {"P_m2_le4": (2, 4), "P_m5_le9": (5, 9)}.items():
        every = np.arange(60)
        demand = np.repeat(every, np.round(poisson.pmf(every, mean) * 1e6).astype(int))
        # the printed chance is that of this stock: a little less is met by it, a little more is not
        printed, near = case.published[name]["value"], case.published[name]["abs_tol"]
        assert [stock_for(demand, fill_chance=printed + off) for off in (-near, near)] == [stock, stock + 1]
