"""Clean first, new part or scrap: the closed form, a simulation stick by stick, when to stop, and what is asked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipelines.decisions.clean_or_replace import SURE, Costs, clean_or_replace
from pipelines.errors import InputError
from pipelines.estimates.coming_cleans import ComingCleans
from pipelines.vocabulary import Because, Course

COSTS = Costs(clean_cost=4.0, replace_cost=22.0, return_cost=9.0)


def sure(passes, holds, first_number: int = 1) -> ComingCleans:
    """Return the coming cleans as if their chances were known."""
    return ComingCleans(first_number, np.array([passes], dtype=float), np.array([holds], dtype=float))


def by_hand(p: float, h: float, costs: Costs) -> float:
    """Return what cleaning first saves: p [c_replace − (1 − h)(c_back + c_replace)] − c_clean."""
    return p * (costs.replace_cost - (1 - h) * (costs.return_cost + costs.replace_cost)) - costs.clean_cost


@pytest.mark.parametrize("p", [0.0, 0.2, 0.3, 0.5, 0.9, 1.0])
@pytest.mark.parametrize("h", [0.0, 0.4, 0.7, 1.0])
def test_one_clean_is_worth_it_where_the_closed_form_says(p, h):
    advice = clean_or_replace(sure([p], [h]), COSTS)
    saved = by_hand(p, h, COSTS)
    assert advice.course is (Course.CLEAN_FIRST if saved > 0 else Course.NEW_PART)
    assert advice.margin == pytest.approx(abs(saved))
    assert advice.expected_cost[Course.CLEAN_FIRST] == pytest.approx(COSTS.replace_cost - saved)
    assert (advice.sure_share, advice.clean_until) == (1.0, 1 if saved > 0 else None)


def simulated(passes, holds, costs: Costs, cleans: int, sticks: int = 400_000) -> tuple[float, float]:
    """Return the mean cost over sticks cleaned up to so many times, and its standard error."""
    rng = np.random.default_rng(4)
    cost, is_bad = np.zeros(sticks), np.ones(sticks, dtype=bool)
    for p, h in zip(passes[:cleans], holds[:cleans], strict=True):
        cost[is_bad] += costs.clean_cost
        is_passed = is_bad & (rng.random(sticks) < p)
        cost[is_passed & (rng.random(sticks) >= h)] += costs.return_cost + costs.replace_cost
        is_bad &= ~is_passed
    cost[is_bad] += costs.replace_cost
    return cost.mean(), cost.std() / np.sqrt(sticks)


def test_several_cleans_cost_what_a_simulation_stick_by_stick_says():
    passes, holds = [0.6, 0.45, 0.3, 0.05], [0.85, 0.8, 0.75, 0.7]
    advice = clean_or_replace(sure(passes, holds, first_number=2), COSTS)
    tried = [simulated(passes, holds, COSTS, cleans) for cleans in (1, 2, 3, 4)]
    best = min(range(4), key=lambda one: tried[one][0])
    # The third clean of this stick is the fourth of its module.
    assert (best, advice.clean_until, advice.after_cleans) == (2, 4, Course.NEW_PART)
    mean, error = tried[best]
    assert advice.expected_cost[Course.CLEAN_FIRST] == pytest.approx(mean, abs=4 * error)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_cleaning_stops_at_the_last_try_that_pays_for_itself(number):
    passes = [0.9] * number + [0.1] * 3
    advice = clean_or_replace(sure(passes, [0.9] * len(passes)), COSTS)
    assert advice.clean_until == number


def test_draws_say_how_sure_it_is_and_their_mean_decides():
    rng = np.random.default_rng(1)
    p, h = rng.beta(8, 8, (20_000, 1)), rng.beta(30, 10, (20_000, 1))
    advice = clean_or_replace(ComingCleans(1, p, h), COSTS)
    saved = by_hand(p, h, COSTS)
    assert advice.expected_cost[Course.NEW_PART] - advice.expected_cost[Course.CLEAN_FIRST] == pytest.approx(saved.mean())
    is_cleaned = advice.course is Course.CLEAN_FIRST
    assert advice.sure_share == pytest.approx(((saved > 0) == is_cleaned).mean())
    assert advice.is_close == (advice.sure_share < SURE)
    narrow = ComingCleans(1, 0.5 + (p - 0.5) / 50, np.full_like(h, 0.9))
    assert not clean_or_replace(narrow, COSTS).is_close


@pytest.mark.parametrize("part_hold", [0.0, 0.3, 0.8, 1.0])
def test_a_new_part_that_comes_back_costs_a_return_and_another(part_hold):
    """p [N − (1 − h)(c_back + c_replace)] − c_clean, N = c_replace + (1 − h_new)(c_back + c_replace); and simulated."""
    p, h = 0.4, 0.7
    advice = clean_or_replace(sure([p], [h]), COSTS, part_holds=np.array([part_hold]))
    rng, sticks = np.random.default_rng(6), 400_000
    is_back = rng.random(sticks) >= part_hold
    replaced = COSTS.replace_cost + is_back * (COSTS.return_cost + COSTS.replace_cost)
    is_passed, is_held = rng.random(sticks) < p, rng.random(sticks) < h
    cleaned = COSTS.clean_cost + np.where(is_passed, ~is_held * (COSTS.return_cost + COSTS.replace_cost), replaced)
    for course, cost in ((Course.NEW_PART, replaced), (Course.CLEAN_FIRST, cleaned)):
        assert advice.expected_cost[course] == pytest.approx(cost.mean(), abs=4 * cost.std() / np.sqrt(sticks) + 1e-9)
    new = COSTS.replace_cost + (1 - part_hold) * (COSTS.return_cost + COSTS.replace_cost)
    saved = p * (new - (1 - h) * (COSTS.return_cost + COSTS.replace_cost)) - COSTS.clean_cost
    assert advice.expected_cost[Course.NEW_PART] - advice.expected_cost[Course.CLEAN_FIRST] == pytest.approx(saved)


@pytest.mark.parametrize("part_holds", [np.array([1.1]), np.array([np.nan]), np.array([0.5, 0.5])])
def test_what_new_parts_hold_must_fit_the_draws(part_holds):
    with pytest.raises(InputError, match="new parts"):
        clean_or_replace(sure([0.4], [0.7]), COSTS, part_holds=part_holds)


def test_cleans_of_which_nobody_knows_whether_they_hold_are_advised_against_or_not_at_all():
    poor, good = (ComingCleans(1, np.array([[p]]), np.ones((1, 1)), is_hold_known=False) for p in (0.1, 0.9))
    against, untold = clean_or_replace(poor, COSTS), clean_or_replace(good, COSTS)
    assert (against.course, against.because) == (Course.NEW_PART, None)
    assert against.expected_cost[Course.CLEAN_FIRST] == pytest.approx(COSTS.clean_cost + 0.9 * COSTS.replace_cost)
    assert (untold.course, untold.because, untold.expected_cost) == (None, Because.NO_FOLLOW_UP, {})
    assert clean_or_replace(good, COSTS, mechanism="track_wear").is_rule_of_thumb


def test_equal_costs_are_close():
    p = COSTS.clean_cost / COSTS.replace_cost
    assert clean_or_replace(sure([p], [1.0]), COSTS).is_close


def test_scrap_is_weighed_only_with_both_values_and_then_ends_the_cleans_too():
    poor = sure([0.1], [0.5])
    assert Course.SCRAP not in clean_or_replace(poor, replace(COSTS, working_value=15.0)).expected_cost
    advice = clean_or_replace(poor, replace(COSTS, working_value=15.0, scrap_value=2.0))
    assert (advice.course, advice.expected_cost[Course.SCRAP], advice.after_cleans) == (Course.SCRAP, 13.0, Course.SCRAP)
    good = clean_or_replace(sure([0.9], [0.95]), replace(COSTS, working_value=15.0, scrap_value=2.0))
    assert good.expected_cost[Course.CLEAN_FIRST] == pytest.approx(4 + 0.9 * 0.05 * 31 + 0.1 * 13)
    assert good.course is Course.CLEAN_FIRST
    dear = clean_or_replace(poor, replace(COSTS, working_value=80.0, scrap_value=2.0))
    assert dear.course is Course.NEW_PART


def test_what_is_not_given_is_asked_for_by_name():
    advice = clean_or_replace(sure([0.5], [0.9]), Costs(clean_cost=0.0))
    assert (advice.course, advice.because, advice.missing) == (None, Because.NOT_GIVEN, ("replace_cost", "return_cost"))
    free = clean_or_replace(sure([0.5], [0.9]), Costs(0.0, 0.0, 0.0))
    assert (free.expected_cost, free.is_close) == ({Course.CLEAN_FIRST: 0.0, Course.NEW_PART: 0.0}, True)


@pytest.mark.parametrize("because", [Because.TOO_FEW_ATTEMPTS, Because.UNLIKE_ANY, Because.NO_FOLLOW_UP])
def test_without_a_record_only_a_worn_track_gets_the_rule_of_thumb(because):
    for mechanism in (None, "contamination", "spring_fatigue"):
        advice = clean_or_replace(because, COSTS, mechanism=mechanism)
        assert (advice.course, advice.because, advice.is_rule_of_thumb) == (None, because, False)
    advice = clean_or_replace(because, Costs(), mechanism="track_wear")
    assert (advice.course, advice.because, advice.is_rule_of_thumb) == (Course.NEW_PART, because, True)
    assert (advice.expected_cost, advice.margin, advice.sure_share) == ({}, None, None)


@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_a_cost_that_is_no_amount_is_an_error(value):
    with pytest.raises(InputError, match="replace_cost"):
        Costs(1.0, value, 1.0)


@pytest.mark.parametrize(("passes", "holds"), [([[1.2]], [[0.5]]), ([[0.5, 0.5]], [[0.5]]), ([[]], [[]]), ([[np.nan]], [[0.5]])])
def test_draws_that_are_no_shares_are_an_error(passes, holds):
    with pytest.raises(InputError):
        ComingCleans(1, np.array(passes), np.array(holds))
