"""Sampling plans: against scipy, against a search through every plan, at their edges, and bad input in words."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.acceptance import (
    Plan,
    average_outgoing,
    lot_acceptance,
    process_acceptance,
    risk_points,
    smallest_plan,
    smallest_sample,
)


def test_both_curves_are_those_of_scipy():
    from scipy.stats import binom, hypergeom

    plan, shares = Plan(13, 2, 60), np.linspace(0, 1, 41)
    assert lot_acceptance(plan, np.arange(61)) == pytest.approx(hypergeom.cdf(2, 60, np.arange(61), 13), abs=1e-12)
    assert process_acceptance(plan, shares) == pytest.approx(binom.cdf(2, 13, shares), abs=1e-12)


def test_a_large_lot_is_accepted_as_a_process_is():
    plan = Plan(20, 1, 1_000_000)
    assert lot_acceptance(plan, 100_000) == pytest.approx(process_acceptance(plan, 0.1), rel=1e-4)


@pytest.mark.parametrize("lot_count", [None, 25, 60, 333])
@pytest.mark.parametrize(("good", "bad"), [(0.0, 0.12), (0.01, 0.08), (0.04, 0.2), (0.1, 0.3), (0.3, 0.6)])
def test_no_plan_with_fewer_units_keeps_both_risks(lot_count, good, bad):
    from scipy.stats import binom, hypergeom

    def accepted(sample, accept, share, rounded):
        if lot_count is None:
            return binom.cdf(accept, sample, share)
        return hypergeom.cdf(accept, lot_count, int(rounded(share * lot_count)), sample)

    plan = smallest_plan(producer_share=good, consumer_share=bad, lot_count=lot_count)
    keeping = next(
        (sample, accept)
        for sample in range(1, 400)
        for accept in range(sample)
        if accepted(sample, accept, good, np.floor) >= 0.95 and accepted(sample, accept, bad, np.ceil) <= 0.1
    )
    assert (plan.sample_count, plan.acceptance_number) == keeping


@settings(max_examples=40, deadline=None)
@given(
    sample=st.integers(1, 60), accept=st.integers(0, 8), more=st.integers(0, 80), a=st.floats(0.01, 0.3), b=st.floats(0.01, 0.3)
)
def test_risk_points_are_where_the_curve_has_the_risks(sample, accept, more, a, b):
    accept = min(accept, sample - 1)
    process = risk_points(Plan(sample, accept), producer_risk=a, consumer_risk=b)
    assert process_acceptance(Plan(sample, accept), process.producer_share) == pytest.approx(1 - a)
    assert process_acceptance(Plan(sample, accept), process.consumer_share) == pytest.approx(b)
    plan = Plan(sample, accept, sample + more)
    finite = risk_points(plan, producer_risk=a, consumer_risk=b)
    good, bad = (round(one * plan.lot_count) for one in (finite.producer_share, finite.consumer_share))
    assert lot_acceptance(plan, good) >= 1 - a - 1e-8
    assert lot_acceptance(plan, bad) <= b + 1e-8
    assert good == plan.lot_count or lot_acceptance(plan, good + 1) < 1 - a
    assert bad == 0 or lot_acceptance(plan, bad - 1) > b


def test_a_test_of_the_whole_lot_has_no_risk():
    plan = Plan(10, 3, 10)
    assert lot_acceptance(plan, np.arange(11)).tolist() == [1] * 4 + [0] * 7
    assert risk_points(plan).producer_share == 0.3
    assert risk_points(plan).consumer_share == 0.4


def test_zero_acceptance_is_the_success_run():
    for share in (0.001, 0.02, 0.1, 0.5):
        run = np.ceil(np.log(0.1) / np.log(1 - share) - 1e-9)
        assert smallest_sample(consumer_share=share).sample_count == run
    assert smallest_sample(consumer_share=1.0).sample_count == 1
    assert smallest_sample(consumer_share=0.1, lot_count=1).sample_count == 1


def test_a_smaller_lot_takes_a_smaller_sample():
    sizes = [smallest_sample(consumer_share=0.1, lot_count=one).sample_count for one in (20, 50, 100, 1000)]
    assert sizes == sorted(sizes)
    assert sizes[-1] <= smallest_sample(consumer_share=0.1).sample_count


def test_what_goes_out_is_little_where_lots_are_good_and_where_they_are_refused():
    out = average_outgoing(Plan(52, 3, 10_000), [0, 0.05, 1])
    assert out[0] == out[2] == 0
    assert 0 < out[1] < 0.05


def test_shares_that_only_a_huge_sample_tells_apart_have_no_plan():
    assert smallest_plan(producer_share=0.1, consumer_share=0.1001) is None
    assert smallest_plan(producer_share=0.1, consumer_share=0.1001, lot_count=400).sample_count == 400


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: Plan(0, 0), "never refuses"),
        (lambda: Plan(3, 3), "never refuses"),
        (lambda: Plan(3, -1), "-1 is not a number of units"),
        (lambda: Plan(2.5, 0), "2.5 is not a number of units"),
        (lambda: Plan(9, 0, 8), "9 units tested of a lot of 8"),
        (lambda: lot_acceptance(Plan(9, 0), 1), "how large the lot is"),
        (lambda: average_outgoing(Plan(9, 0), 0.1), "how large the lot is"),
        (lambda: lot_acceptance(Plan(9, 0, 10), 11), "cannot hold"),
        (lambda: lot_acceptance(Plan(9, 0, 10), 1.5), "cannot hold"),
        (lambda: process_acceptance(Plan(9, 0), 1.2), "outside 0 to 1"),
        (lambda: process_acceptance(Plan(9, 0), float("nan")), "outside 0 to 1"),
        (lambda: risk_points(Plan(9, 0), producer_risk=0), "not a probability"),
        (lambda: smallest_plan(producer_share=0.2, consumer_share=0.2), "smaller share bad"),
        (lambda: smallest_plan(producer_share=0.1, consumer_share=1.2), "outside 0 to 1"),
        (lambda: smallest_plan(producer_share=0.1, consumer_share=0.2, lot_count=0), "A lot of 0 units"),
        (lambda: smallest_sample(consumer_share=0), "without bad units"),
        (lambda: smallest_sample(consumer_share=0.1, acceptance_number=2, lot_count=20), "no more bad units than the 2"),
        (lambda: smallest_sample(consumer_share=0.1, consumer_risk=1), "not a probability"),
    ],
)
def test_bad_input_is_refused_in_words(ask, said):
    with pytest.raises(InputError, match=said):
        ask()
