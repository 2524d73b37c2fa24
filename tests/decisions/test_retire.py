"""Keep a controller or replace it: the two costs by hand, the turning point, and inputs at the edge."""

from __future__ import annotations

from math import inf, nan

import pytest

from pipelines.decisions.retire import Retire, RetireCosts, retirement
from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate

COSTS = RetireCosts(unit_price=40.0, fault_cost=10.0, keep_weeks=50.0)


def test_both_costs_and_the_saving_are_those_reckoned_by_hand():
    found = retirement(Estimate(3.0, 1.0, 6.0), 0.1, COSTS, saves_chance=0.7)
    # a typical one has 5 faults in 50 weeks, this one 15
    assert (found.keep_cost, found.replace_cost) == (pytest.approx(150), pytest.approx(90))
    assert (found.saving.estimate, found.saving.low, found.saving.high) == pytest.approx((60, -40, 210))
    assert found.advice is Retire.CANNOT_TELL
    assert COSTS.even_factor(0.1) == pytest.approx(1.8)


def test_at_the_turning_point_both_cost_the_same():
    even = COSTS.even_factor(0.1)
    found = retirement(Estimate(even, even, even), 0.1, COSTS, saves_chance=0.5)
    assert found.keep_cost == pytest.approx(found.replace_cost)


@pytest.mark.parametrize(("chance", "advice"), [(0.95, Retire.REPLACE), (0.9, Retire.REPLACE), (0.5, Retire.CANNOT_TELL),
                                                (0.1, Retire.KEEP), (0.0, Retire.KEEP)])  # fmt: skip
def test_the_chance_that_it_saves_decides(chance, advice):
    assert retirement(Estimate(2.0, 1.0, 3.0), 0.1, COSTS, saves_chance=chance).advice is advice


@pytest.mark.parametrize("free", [{"fault_cost": 0.0}, {"keep_weeks": 0.0}])
def test_where_faults_cost_nothing_no_rate_pays_for_another(free):
    costs = RetireCosts(**{"unit_price": 40.0, "fault_cost": 10.0, "keep_weeks": 50.0} | free)
    assert costs.even_factor(0.1) == inf
    assert retirement(Estimate(3.0, 1.0, 6.0), 0.1, costs, saves_chance=0.0).saving.estimate == -40


@pytest.mark.parametrize("broken", [-1.0, nan, inf])
def test_a_cost_that_is_no_amount_is_refused(broken):
    with pytest.raises(InputError):
        RetireCosts(broken, 10.0, 50.0)
