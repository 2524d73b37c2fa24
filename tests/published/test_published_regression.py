"""Regressions against published and recomputed values, each at its case's tolerance; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.accelerated import LifeSpells, life_likelihood, life_residuals
from pipelines.estimates.climb import climb
from pipelines.estimates.cox_robust import CoxSpells, partial_likelihood, sandwich, score_residuals
from pipelines.estimates.proportional import change_test
from pipelines.estimates.regression import hazard_ratios, life_ratios
from tests.published.cases import Case, case_ids, load_case, rows_of

#: Breslow's ties and lognormal lives are other models than ours.
COX = [one for one in case_ids("cox_") if not one.endswith("_breslow")]
LIVES = [one for one in case_ids("aft_") if not one.endswith("_ln")]


def near(case: Case, expected):
    return pytest.approx(expected, rel=case.rel_tol, abs=1e-9)


def covariates(case: Case) -> np.ndarray:
    return rows_of(case)[case.data["covariates"]].to_numpy(dtype=float)


def numbered(case: Case, key: str) -> np.ndarray:
    rows = rows_of(case)
    return pd.factorize(rows[case.data[key]])[0] if key in case.data else np.zeros(len(rows), dtype=int)


def cox_spells(case: Case) -> CoxSpells:
    spells = case.spells
    times = (spells["entry"].to_numpy(), spells["at"].to_numpy(), spells["is_failure"].to_numpy())
    return CoxSpells(*times, spells["spell_count"].to_numpy(dtype=float), covariates(case), numbered(case, "strata"))


def errors(covariance: np.ndarray) -> list[float]:
    return np.sqrt(np.diag(covariance)).tolist()


@pytest.mark.parametrize("case_id", COX)
def test_a_cox_regression_with_its_errors_comes_out_as_computed_elsewhere(case_id):
    case = load_case(case_id)
    rows = cox_spells(case)
    zero = np.zeros(rows.x.shape[1])
    beta, top = climb(lambda at: partial_likelihood(rows, at), zero)
    assert beta.tolist() == near(case, case.expected["coef"])
    assert errors(np.linalg.inv(top.information)) == near(case, case.expected["se_model"])
    assert top.value == near(case, case.expected["loglik"])
    assert partial_likelihood(rows, zero).value == near(case, case.expected["loglik0"])
    if "cluster" in case.data:
        robust = sandwich(top.information, score_residuals(rows, beta), rows.count, numbered(case, "cluster"))
        assert errors(robust) == near(case, case.expected["se_robust"])


@pytest.mark.parametrize("case_id", LIVES)
def test_a_weibull_regression_with_its_errors_comes_out_as_computed_elsewhere(case_id):
    case = load_case(case_id)
    spells, x = case.spells, covariates(case)
    columns = (spells[name].to_numpy(dtype=float) for name in ("entry", "lower", "upper", "spell_count"))
    rows = LifeSpells(*columns, np.column_stack([np.ones(len(x)), x]))
    plain = LifeSpells(rows.entry, rows.lower, rows.upper, rows.count, rows.x[:, :1])
    without = climb(lambda at: life_likelihood(plain, at), np.array([np.log(rows.lower.mean()), 0.0]))
    start = np.concatenate([without[0][:1], np.zeros(x.shape[1]), without[0][1:]])
    theta, top = climb(lambda at: life_likelihood(rows, at), start)
    covariance = np.linalg.inv(top.information)
    assert theta[:-1].tolist() == near(case, case.expected["coef"])
    assert errors(covariance)[:-1] == near(case, case.expected["se_model"])
    assert errors(covariance)[-1] == near(case, case.expected["se_log_scale"])
    assert np.exp(-theta[-1]) == near(case, case.expected["scale"])
    assert (top.value, without[1].value) == (near(case, case.expected["loglik"]), near(case, case.expected["loglik0"]))
    if "cluster" in case.data:
        robust = sandwich(top.information, life_residuals(rows, theta), rows.count, numbered(case, "cluster"))
        assert errors(robust)[:-1] == near(case, case.expected["se_robust"])
    found = dict(enumerate(theta[:-1]))
    for key, printed in case.published.items():
        value = found[int(key.split("|")[1])] if "|" in key else np.exp(-theta[-1])
        assert value == pytest.approx(printed["value"], abs=printed["abs_tol"])


def test_hazard_ratios_of_recurrent_infections_take_the_wider_error_and_students_t():
    """cgd: 128 patients; the sandwich's error exceeds the model's there, so it sets the limits."""
    from scipy.stats import t

    case = load_case("cox_cgd_ag_cluster")
    rows = rows_of(case)
    spells = case.spells.assign(treated=rows["tr"].to_numpy(), patient=rows["id"].to_numpy())
    fit = hazard_ratios(spells, factors=["treated"], cluster="patient")
    (ratio,) = (one.ratio for one in fit.ratios if not one.is_reference)
    sign = 1 if next(one.level for one in fit.ratios if one.is_reference) == 0 else -1
    patients = fit.cluster_count
    error = case.expected["se_robust"][0] * np.sqrt(patients / (patients - 1))
    assert patients == 128
    assert np.log(ratio.estimate) == near(case, sign * case.expected["coef"][0])
    assert np.log(ratio.high / ratio.low) == near(case, 2 * t.ppf(0.975, patients - 1) * error)


def test_life_ratios_of_rats_come_out_as_computed_elsewhere():
    case = load_case("aft_rats_cluster")
    rows = rows_of(case)
    spells = case.spells.assign(rx=rows["rx"].to_numpy(), sexm=rows["sexm"].to_numpy(), litter=rows["litter"].to_numpy())
    fit = life_ratios(spells, factors=["rx", "sexm"], cluster="litter", min_failures=2)
    by_level = {(one.factor, one.level): one for one in fit.ratios}
    assert by_level[("rx", 0)].is_reference
    assert np.log(by_level[("rx", 1)].ratio.estimate) == near(case, case.expected["coef"][1])
    # Of 150 males two failed; females may be the reference, or males.
    male = by_level[("sexm", 1)]
    log = np.log(male.ratio.estimate) if not male.is_reference else -np.log(by_level[("sexm", 0)].ratio.estimate)
    assert log == near(case, case.expected["coef"][2])
    assert fit.shape.estimate == near(case, 1 / case.expected["scale"])
    assert fit.log_likelihood == near(case, case.expected["loglik"])


def test_the_check_of_proportional_hazards_comes_out_as_printed():
    """ovarian, R survival's example of cox.zph (age 0.698, ecog.ps 2.371, together 3.633; digits from memory)."""
    case = load_case("aft_ovarian")
    rows = rows_of(case)
    one = np.ones(len(rows))
    x = rows[["age", "ecog_ps"]].to_numpy(dtype=float)
    spells = CoxSpells(0 * one, rows["time"].to_numpy(dtype=float), rows["event"].to_numpy() == 1, one, x, one.astype(int) * 0)
    beta, _ = climb(lambda at: partial_likelihood(spells, at), np.zeros(2))
    # That program's default follows 1 − Kaplan–Meier just before each failure.
    at_risk = [(spells.at >= time).sum() for time in spells.events.time]
    before = np.append(0.0, 1 - np.cumprod(1 - spells.events.failed / at_risk)[:-1])
    statistic, p_value = change_test(spells, beta, [[0], [1], [0, 1]], along=before)
    assert statistic.tolist() == pytest.approx([0.698, 2.371, 3.633], abs=0.0006)
    assert p_value.tolist() == pytest.approx([0.40, 0.12, 0.16], abs=0.006)
