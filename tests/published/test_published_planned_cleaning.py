"""Planned cleaning against published age replacement and minimal repair; sources in cases.json.

A clean that gives back all of the age is a replacement; a fault put right without a clean is a minimal repair.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from pipelines.estimates.renewal_cost import Renewal, long_run_rates
from tests.published.cases import load_case


def cost_rate(law: Renewal, planned: float, fault: float, after) -> np.ndarray:
    faults, cleans = long_run_rates(law, after)
    return fault * faults + planned * cleans


@pytest.mark.parametrize("case_id", ["agerep_weibull_1000_2.5", "agerep_weibull_12_1.5"])
def test_age_replacement(case_id):
    case = load_case(case_id)
    given, expected = case.data, case.expected
    law = Renewal(given["beta"], given["eta"], 0.0, 0.0)
    costs = {"planned": given["cp"], "fault": given["cf"]}
    best = minimize_scalar(
        lambda after: float(cost_rate(law, **costs, after=after)), bounds=(0.1 * given["eta"], 2 * given["eta"]),
        method="bounded", options={"xatol": 1e-6 * given["eta"]},
    )  # fmt: skip
    waiting = float(cost_rate(law, **costs, after=np.inf))
    found = {
        "cost_rate": best.fun, "cost_rate_run_to_failure": waiting, "saving_fraction": 1 - best.fun / waiting,
    }  # fmt: skip
    assert found == pytest.approx({name: expected[name] for name in found}, rel=case.rel_tol)
    assert float(cost_rate(law, **costs, after=expected["T_opt"])) == pytest.approx(expected["cost_rate"], rel=case.rel_tol)
    # the cost is flat about its least: the interval itself is told by fewer digits
    assert best.x == pytest.approx(expected["T_opt"], rel=1e-3)
    for name, printed in case.published.items():
        assert {"T_opt": best.x, "cost_rate": best.fun}[name] == pytest.approx(printed["value"], abs=printed["abs_tol"])


def test_no_replacement_is_best_where_the_hazard_does_not_rise():
    case = load_case("agerep_no_optimum")
    for given, expected in zip(case.data["cases"], case.expected["cost_rate"], strict=True):
        law = Renewal(given["beta"], given["eta"], 0.0, 0.0)
        waiting = float(cost_rate(law, case.data["cp"], case.data["cf"], np.inf))
        assert waiting == pytest.approx(expected, rel=2e-5)
        assert (cost_rate(law, case.data["cp"], case.data["cf"], np.geomspace(50, 5000, 30)) > waiting).all()


def test_minimal_repair():
    case = load_case("minrep_weibull_1000_2.5")
    given = case.data
    law = Renewal(given["beta"], given["eta"], 0.0, 0.0, patched_share=1.0)
    costs = {"planned": given["c_renewal"], "fault": given["c_minimal_repair"]}
    best = minimize_scalar(lambda after: float(cost_rate(law, **costs, after=after)), bounds=(100, 1500), method="bounded",
                           options={"xatol": 1e-7})  # fmt: skip
    assert best.fun == pytest.approx(case.expected["cost_rate"], rel=case.rel_tol)
    assert best.x == pytest.approx(case.expected["T_opt"], rel=1e-4)
