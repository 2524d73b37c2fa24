"""Logistic regression and the scores of predicted chances against published and recomputed values; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.reliability import reliability
from pipelines.estimates.ridge_logistic import ridge_logistic
from tests.published.cases import load_case, rows_of


def test_logistic_coefficients_without_a_prior_and_the_calibration_of_their_own_chances():
    case = load_case("logit_birthwt")
    rows = rows_of(case)
    race = [(rows["race"] == one).astype(float) for one in (2, 3)]
    x = np.column_stack([np.ones(len(rows)), rows["age"], rows["lwt"], *race, rows[["smoke", "ptl", "ht", "ui"]]])
    low = rows["low"].to_numpy(dtype=float)
    fit = ridge_logistic(x, low, np.ones(len(rows)), prior_sd=np.full(x.shape[1], np.inf))
    assert fit.coefficient == pytest.approx(case.expected["coef"], rel=case.rel_tol)
    found = reliability(1 / (1 + np.exp(-x @ fit.coefficient)), low, np.ones(len(rows)))
    line = (found.intercept.estimate, found.slope.estimate)
    assert line == pytest.approx(case.expected["calibration"], rel=case.rel_tol, abs=case.rel_tol)


def test_bands_are_the_deciles_of_risk_and_the_scores_are_those_of_r():
    case = load_case("hl_birthwt")
    rows = rows_of(case)
    found = reliability(rows["p"], rows["y"], np.ones(len(rows)))
    bands, near = found.bands, {"rel": case.rel_tol}
    assert bands["n"].tolist() == case.expected["n"]
    assert bands["k"].tolist() == case.expected["obs"]
    expected = bands["chance"] * bands["n"]
    assert expected.to_numpy() == pytest.approx(case.expected["exp"], **near)
    statistic = ((bands["k"] - expected) ** 2 / (expected * (1 - bands["chance"]))).sum()
    assert statistic == pytest.approx(case.expected["HL"], **near)
    assert (found.brier, found.log_loss) == pytest.approx((case.expected["brier"], case.expected["log_loss"]), **near)


def test_the_brier_score_of_a_published_table_of_forecasts_and_its_parts():
    case = load_case("brier_wilks")
    table = pd.DataFrame(case.data)
    k = table["observed_freq"] * table["share"]
    # As many bands as there are forecasts: each share times 10,000 is a whole number of forecasts.
    found = reliability(table["forecast"], 1e4 * k, 1e4 * table["share"], bands=10_000)
    want, near = case.expected, {"rel": case.rel_tol}
    assert found.brier == pytest.approx(want["brier"], **near)
    assert found.plain_brier == pytest.approx(want["uncertainty"], **near)
    assert 1 - found.brier / found.plain_brier == pytest.approx(want["skill"], **near)
    bands = found.bands
    weight = bands["n"] / bands["n"].sum()
    rate = (weight * bands["share"]).sum()
    assert rate == pytest.approx(want["base_rate"], **near)
    assert rate == pytest.approx(case.published["base_rate"]["value"], abs=case.published["base_rate"]["abs_tol"])
    assert (weight * (bands["chance"] - bands["share"]) ** 2).sum() == pytest.approx(want["reliability"], **near)
    assert (weight * (bands["share"] - rate) ** 2).sum() == pytest.approx(want["resolution"], **near)
