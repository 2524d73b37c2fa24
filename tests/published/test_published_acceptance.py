"""Acceptance sampling and demonstration tests against published plans and tables; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.acceptance import (
    Plan,
    average_outgoing,
    lot_acceptance,
    process_acceptance,
    smallest_plan,
    smallest_sample,
)
from pipelines.estimates.demonstration import ShownLife, demonstrations
from tests.published.cases import Case, load_case


def as_printed(case: Case, key: str, found: list) -> None:
    """Check what was found against the printed digits, where some are kept; `found` may be a table."""
    for name, printed in case.published.items():
        stem, *places = name.split("|")
        if stem == key:
            one = np.array(found)[tuple(int(place) for place in places)]
            assert one == pytest.approx(printed["value"], abs=printed["abs_tol"])


def test_the_operating_curve_of_the_handbook():
    case = load_case("oc_nist_52_3")
    plan = Plan(case.data["n"], case.data["c"], case.data["N"])
    accepted = process_acceptance(plan, case.data["p"]).tolist()
    assert accepted == pytest.approx(case.expected["Pa"], rel=case.rel_tol)
    assert average_outgoing(plan, case.data["p"]).tolist() == pytest.approx(case.expected["AOQ"], rel=case.rel_tol)
    as_printed(case, "Pa", accepted)


def test_the_smallest_plan_for_two_risk_points():
    case = load_case("plan_jss_kiermeier")
    (good, pass_good), (bad, pass_bad) = case.data["PRP"], case.data["CRP"]
    assessed = process_acceptance(Plan(20, 0), [good, bad]).tolist()
    assert assessed == pytest.approx(case.expected["assess_20_0"], rel=case.rel_tol)
    plan = smallest_plan(producer_share=good, consumer_share=bad, producer_risk=1 - pass_good, consumer_risk=pass_bad)
    assert plan == Plan(case.expected["plan_n"], case.expected["plan_c"])
    assert process_acceptance(plan, [good, bad]).tolist() == pytest.approx(case.expected["plan_pa"], rel=case.rel_tol)
    as_printed(case, "assess_20_0", assessed)


def test_the_plans_of_the_standard_accept_lots_at_their_quality_limit_as_it_means_them_to():
    """Lots at the AQL pass 87 to 99.5 % of the time, the more often the larger the sample of a column."""
    case = load_case("iso2859_rows")
    for limit_pct, row in case.data["Ac"].items():
        plans = [Plan(case.data["sample_size"][letter], accept) for letter, accept in row.items()]
        accepted = np.array([process_acceptance(plan, float(limit_pct) / 100) for plan in plans])
        assert ((accepted > 0.87) & (accepted < 0.995)).all()
        # Each ratio n · AQL is that of a preferred series, rounded: a step may fall by as little as that.
        assert (np.diff(accepted) > -0.01).all()
        assert accepted[-1] > accepted[0] + 0.1


def test_finite_lots_and_zero_acceptance():
    case = load_case("hypergeom_c0")
    accepted = [float(lot_acceptance(Plan(n, c, size), bad)) for size, bad, n, c in case.data["N_D_n_c"]]
    assert accepted == pytest.approx(case.expected["Pa"], rel=case.rel_tol)
    plans = [
        smallest_sample(consumer_share=bad / size, consumer_risk=risk, lot_count=size)
        for size, bad, risk in case.data["size_for"]
    ]
    assert [plan.sample_count for plan in plans] == case.expected["n_needed"]


def test_success_runs_and_tests_that_allow_failures():
    case = load_case("success_run")
    runs = [smallest_sample(consumer_share=1 - share, consumer_risk=1 - sure).sample_count for share, sure in case.data["R_C"]]
    assert runs == case.expected["n0"]
    as_printed(case, "n0", runs)
    allowing = [
        smallest_sample(consumer_share=1 - share, consumer_risk=1 - sure, acceptance_number=failures).sample_count
        for share, sure, failures in case.data["with_failures"]
    ]
    assert allowing == case.expected["n_r"]


def test_demonstrations_of_a_life_are_the_success_runs_and_the_test_lengths():
    """As long on test as the life, success runs; many modules for a short time at a constant rate, the factors of the mean."""
    case = load_case("success_run")
    for (share, sure), count in zip(case.data["R_C"], case.expected["n0"], strict=True):
        assert demonstrated(ShownLife(100.0, 1 - share, 2.0, sure), 0, 100.0) == count
    for (share, sure, failures), count in zip(case.data["with_failures"], case.expected["n_r"], strict=True):
        assert demonstrated(ShownLife(100.0, 1 - share, 2.0, sure), failures, 100.0) == count
    case = load_case("mtbf_test_factors")
    failing = -np.expm1(-0.001)  # by a thousandth of the mean life
    for failures, factors in zip(case.data["r"], case.expected["factor"], strict=True):
        for sure, factor in zip(case.data["C"], factors, strict=True):
            modules = demonstrated(ShownLife(1.0, failing, 1.0, sure), failures, 1.0)
            assert modules * 0.001 == pytest.approx(factor, rel=0.002)


def demonstrated(shown: ShownLife, failures: int, time: float) -> int:
    return demonstrations(shown, failures_allowed=[failures], test_times=[time])[0].module_count
