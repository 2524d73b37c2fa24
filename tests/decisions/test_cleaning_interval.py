"""Whether to clean on a calendar: verdicts and their bars, the least cost, controllers that differ, and costs of nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma

from pipelines.decisions.cleaning_interval import AS_GOOD, Costs, Planned, fleet_rates, planned_cleaning
from pipelines.errors import InputError
from pipelines.estimates.renewal_cost import Renewal, long_run_rates
from pipelines.vocabulary import Calendar, CalendarWhy

SURE = Renewal(2.5, 500.0, 0.35, 0.35)
COSTS = Costs(1.0, 8.0)


def drawn(shape: float = 2.5, shape_error: float = 0.05, kept_error: float = 0.1, seed: int = 1) -> Renewal:
    rng = np.random.default_rng(seed)
    kept = np.clip(rng.normal(0.35, kept_error, 100), 0, 1)
    return Renewal(shape * np.exp(rng.normal(0, shape_error, 100)), 500 * np.exp(rng.normal(0, 0.05, 100)), kept, kept)


def weighed(law: Renewal | None = None, costs: Costs = COSTS, **words) -> Planned:
    given = {"harm_share": 0.02, "failures": 300, "is_best_case": False} | words
    return planned_cleaning(law or drawn(), np.full(100, 0.3), costs, **given)


def test_a_law_that_rises_and_dear_faults_give_a_calendar():
    found = weighed(slots=[150.0, 200.0, 1000.0])
    assert (found.verdict, found.why) == (Calendar.CLEAN, CalendarWhy.SAVES)
    assert found.as_good[0] < found.interval < found.as_good[1]
    assert found.saving.low < found.saving.estimate < found.saving.high
    assert found.slot in (150.0, 200.0)
    assert found.faults < found.faults_waiting
    ratio = [1 - one.saving_share for one in found.curve]
    assert min(ratio) == pytest.approx(1 - found.saving.estimate)
    assert all(one.low <= one.cost <= one.high for one in found.curve)


def test_the_interval_is_the_least_of_the_true_cost():
    found = weighed(drawn(shape_error=1e-4, kept_error=1e-4))
    faults, cleans = fleet_rates(SURE, np.array([0.3]), np.append(np.geomspace(30, 2000, 400), np.inf))
    cost = (8 * (faults + 0.02 * cleans) + cleans)[0] / (8 * faults[0, -1])
    at = np.interp(found.interval, np.geomspace(30, 2000, 400), cost[:-1])
    assert at == pytest.approx(cost.min(), rel=0.01)
    assert 1 - found.saving.estimate == pytest.approx(at, rel=0.01)


@pytest.mark.parametrize(
    ("words", "verdict", "why"),
    [
        ({"law": drawn(1.0)}, Calendar.NEVER, CalendarWhy.NO_RISE),
        ({"law": drawn(0.8)}, Calendar.NEVER, CalendarWhy.NO_RISE),
        ({"costs": Costs(8.0, 8.0)}, Calendar.NEVER, CalendarWhy.DEAR_CLEAN),
        ({"costs": Costs(9.0, 8.0)}, Calendar.NEVER, CalendarWhy.DEAR_CLEAN),
        ({"is_best_case": True}, Calendar.TOO_CLOSE, CalendarWhy.RESTORATION_UNTOLD),
        ({"law": drawn(1.0), "is_best_case": True}, Calendar.NEVER, CalendarWhy.NO_RISE),
        ({"failures": 99}, Calendar.TOO_CLOSE, CalendarWhy.TOO_FEW_FAILURES),
        ({"failures": 100}, Calendar.CLEAN, CalendarWhy.SAVES),
        ({"law": drawn(1.4, shape_error=0.25)}, Calendar.TOO_CLOSE, CalendarWhy.UNSURE),
        ({"law": drawn(1.9, shape_error=0.03), "costs": Costs(1.0, 2.4)}, Calendar.TOO_CLOSE, CalendarWhy.LITTLE),
        ({"harm_share": 0.9}, Calendar.NEVER, CalendarWhy.NO_RISE),
    ],
)
def test_the_verdict_keeps_its_bars(words, verdict, why):
    found = weighed(**words)
    assert (found.verdict, found.why) == (verdict, why), found


def test_faults_that_no_clean_prevents_make_a_calendar_save_less():
    shares = [weighed(replace(drawn(), other_rate=rate)).saving.estimate for rate in (0.0, 0.002, 0.02)]
    assert shares[0] > shares[1] > shares[2]
    assert weighed(replace(drawn(), other_rate=0.1)).verdict is Calendar.NEVER


def test_a_fault_that_costs_nothing_and_a_clean_that_does():
    nothing = weighed(costs=Costs(0.0, 0.0))
    assert (nothing.verdict, nothing.interval, nothing.saves_chance) == (Calendar.NEVER, None, 0.0)
    dear = weighed(costs=Costs(3.0, 0.0))
    assert dear.verdict is Calendar.NEVER
    free = weighed(costs=Costs(0.0, 8.0), harm_share=0.0)
    assert free.is_edge
    assert free.verdict is Calendar.CLEAN
    for found in (nothing, dear, free):
        assert np.isfinite([one.cost for one in found.curve]).all()


def test_the_interval_goes_with_the_unit_of_time_and_not_with_that_of_money():
    law, money = drawn(), weighed(costs=Costs(7.0, 56.0))
    days = weighed(replace(law, scale=law.scale / 5))
    usual = weighed()
    assert days.interval == pytest.approx(usual.interval / 5)
    assert days.saving.estimate == pytest.approx(usual.saving.estimate, rel=1e-6)
    assert money.interval == usual.interval
    assert money.waiting.estimate == pytest.approx(7 * usual.waiting.estimate)


def test_intervals_about_as_good_cost_hardly_more():
    found = weighed()
    faults, cleans = fleet_rates(drawn(), np.full(100, 0.3), np.array([*found.as_good, found.interval, np.inf]))
    cost = 8 * (faults + 0.02 * cleans) + cleans
    ratio = (cost / cost[:, -1:]).mean(axis=0)
    assert (ratio[:2] - ratio[2] <= 1.1 * AS_GOOD).all()
    assert (ratio[:2] - ratio[2] >= 0.5 * AS_GOOD).all()


def test_controllers_that_differ_are_averaged_over_their_gamma_factor():
    after, variance = 250.0, 0.5
    faults, _ = fleet_rates(SURE, np.array([variance]), np.array([after]))

    def of(factor: float) -> float:
        return float(long_run_rates(replace(SURE, scale=500 * factor ** (-1 / 2.5)), after)[0])

    law = gamma(1 / variance, scale=variance)
    assert float(faults[0, 0]) == pytest.approx(quad(lambda z: of(z) * law.pdf(z), 1e-6, 12)[0], rel=0.004)
    alike, _ = fleet_rates(SURE, np.array([0.0]), np.array([after]))
    assert float(alike[0, 0]) == pytest.approx(float(long_run_rates(SURE, after)[0]), rel=1e-4)


@pytest.mark.parametrize("wrong", [(-1.0, 8.0), (1.0, np.inf), (np.nan, 8.0)])
def test_impossible_costs_are_refused(wrong):
    with pytest.raises(InputError):
        Costs(*wrong)
