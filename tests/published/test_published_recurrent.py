"""Mean failures by age, trend tests and the power-law process against published and recomputed values; sources in cases.json.

The admissions below are those of Bickel, Hammel & O'Connell (1975), six largest departments; Freedman, Pisani & Purves
(Statistics) give the weighted averages as 39 % and 43 %. From memory, recomputed here.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipelines.estimates.mean_cumulative import mean_cumulative
from pipelines.estimates.standardised import standardised
from pipelines.estimates.trend import trend
from tests.published.cases import Case, case_ids, load_case, rows_of


def history(case: Case) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return failures and watched units of a case; a unit is watched from 0 to its last row."""
    if "times" in case.data:
        units = pd.DataFrame({"unit": range(len(case.data["T"])), "entry": 0.0, "exit": case.data["T"]})
        ages = [(unit, at) for unit, times in enumerate(case.data["times"]) for at in times]
        return pd.DataFrame(ages, columns=["unit", "at"]), units
    rows = rows_of(case).rename(columns={"id": "unit"})
    units = rows.groupby("unit", as_index=False)["time"].max().rename(columns={"time": "exit"}).assign(entry=0.0)
    return rows[rows["status"] == 1].rename(columns={"time": "at"}), units[units["exit"] > 0]


@pytest.mark.parametrize("case_id", case_ids("mcf_"))
def test_the_mean_number_and_both_its_errors_come_out_as_published(case_id):
    case = load_case(case_id)
    events, units = history(case)
    (found,) = mean_cumulative(events, units, by=[])
    curve, times = found.curve, case.expected["times"]
    rows = curve.iloc[np.searchsorted(curve["at"], times, side="right") - 1]
    assert rows["mean_count"].tolist() == pytest.approx(case.expected["mcf"], rel=case.rel_tol)
    assert rows["standard_error"].tolist() == pytest.approx(case.expected["se_robust"], rel=case.rel_tol)
    assert rows["poisson_error"].tolist() == pytest.approx(case.expected["se_poisson"], rel=case.rel_tol)
    assert curve["at_risk"].iloc[np.searchsorted(curve["at"], times)].tolist() == case.expected["n_risk"]
    assert (found.units, found.failures) == (case.expected["n_units"], case.expected["n_events"])


@pytest.mark.parametrize("case_id", case_ids("plp_"))
def test_a_power_law_process_and_its_trend_tests_come_out_as_published(case_id):
    case = load_case(case_id)
    expected = case.expected
    (found,) = trend(*history(case), by=[])

    def near(value):
        return pytest.approx(value, rel=case.rel_tol)

    assert (found.failures, found.tested) == (expected["n"], expected["n"])
    shape = found.shape
    assert (shape.estimate, found.scale) == (near(expected["beta"]), near(expected["eta"]))
    assert (shape.low, shape.high) == (near(expected["beta_chi2_lo"]), near(expected["beta_chi2_hi"]))
    assert found.log_likelihood == near(expected["loglik"])
    assert found.laplace_z == near(expected.get("laplace", expected.get("laplace_pooled")))
    assert found.military_chi2 == near(expected.get("milhdbk_chi2", expected.get("milhdbk_pooled_chi2")))
    rarer = expected.get("milhdbk_p_improve", expected.get("milhdbk_pooled_p_improve"))
    if rarer is None:
        rarer = stats.chi2.sf(expected["milhdbk_pooled_chi2"], 2 * expected["n"])
    assert found.military_p == near(2 * min(rarer, 1 - rarer))
    printed = {"beta": shape.estimate, "lambda": found.scale**-shape.estimate, "milhdbk_chi2": found.military_chi2}
    for key, value in case.published.items():
        if key in printed:
            assert printed[key] == pytest.approx(value["value"], abs=value["abs_tol"])


ADMISSIONS = {
    "A": (825, 512, 108, 89), "B": (560, 353, 25, 17), "C": (325, 120, 593, 202),
    "D": (417, 138, 375, 131), "E": (191, 53, 393, 94), "F": (373, 22, 341, 24),
}  # fmt: skip


def test_admission_rates_standardised_to_all_applicants_turn_around_as_published():
    rows = []
    for department, (men, men_in, women, women_in) in ADMISSIONS.items():
        for sex, count, admitted in (("men", men, men_in), ("women", women, women_in)):
            rows += [(sex, department, True, True, admitted), (sex, department, True, False, count - admitted)]
    attempts = pd.DataFrame(rows, columns=["sex", "department", "is_tried", "is_passed", "failure_count"])
    men, women = standardised(attempts, by=["sex"], band="department")
    assert (men.plain.share, women.plain.share) == (pytest.approx(0.4452, abs=5e-5), pytest.approx(0.3035, abs=5e-5))
    # Printed as whole percents from shares rounded by department: 39 and 43.
    assert (men.standardised.estimate, women.standardised.estimate) == (
        pytest.approx(0.39, abs=5e-3), pytest.approx(0.43, abs=5e-3),
    )  # fmt: skip
    everyone = sum(one + other for one, _, other, _ in ADMISSIONS.values())
    direct = [sum((row[0] + row[2]) / everyone * row[place + 1] / row[place] for row in ADMISSIONS.values()) for place in (0, 2)]
    assert [men.standardised.estimate, women.standardised.estimate] == pytest.approx(direct, rel=1e-12)
