"""Every estimator against published and recomputed values, each at its case's tolerance; sources in cases.json."""

from __future__ import annotations

import re

import numpy as np
import pytest

from pipelines.estimates.proportion import share, wilson
from pipelines.estimates.survival import quantile, survival
from pipelines.estimates.weibull import weibull
from tests.published.cases import Case, case_ids, load_case

CURVES = [one for one in case_ids("km_") if one != "km_channing_male_trap"]
QUANTITIES = (("shape", "beta"), ("scale", "eta"), ("b10", "B10"), ("median", "B50"))


def near(case: Case, expected):
    return pytest.approx(expected, rel=case.rel_tol, abs=1e-9)


@pytest.mark.parametrize("case_id", CURVES)
def test_a_curve_and_its_limits_come_out_as_published(case_id):
    case = load_case(case_id)
    curve = survival(case.spells, by=[])
    rows = curve.iloc[np.searchsorted(curve["at"], case.expected["times"], side="right") - 1]
    assert rows["surviving_share"].tolist() == near(case, case.expected["surv"])
    assert rows["low"].tolist() == near(case, case.expected["loglog_lo"])
    assert rows["high"].tolist() == near(case, case.expected["loglog_hi"])
    for key, printed in case.published.items():
        if match := re.fullmatch(r"surv\|(\d+)", key):
            assert rows["surviving_share"].iloc[int(match[1])] == pytest.approx(printed["value"], abs=printed["abs_tol"])


@pytest.mark.parametrize("case_id", CURVES)
def test_the_number_at_risk_comes_out_as_published(case_id):
    case = load_case(case_id)
    assert at_risk_from(survival(case.spells, by=[]), case.expected["times"]) == case.expected["n_risk"]


def at_risk_from(curve, times) -> list[int]:
    """Return the number at risk at the next exit from each time on, as R's survfit reports it."""
    return curve["at_risk"].iloc[np.searchsorted(curve["at"], times, side="left")].tolist()


@pytest.mark.parametrize("case_id", CURVES)
def test_the_ages_by_which_a_tenth_and_a_half_failed_come_out_as_published(case_id):
    case = load_case(case_id)
    curve = survival(case.spells, by=[])
    median = quantile(curve, share=0.5)
    assert quantile(curve, share=0.1).estimate == case.expected["q10"]
    assert median.estimate == case.expected["q50"]
    if "q50_lo" in case.expected:
        assert (median.low, median.high) == (case.expected["q50_lo"], case.expected["q50_hi"])


def test_a_curve_whose_early_risk_set_fails_entirely_stays_at_zero_as_published():
    case = load_case("km_channing_male_trap")
    curve = survival(case.spells, by=[])
    late = curve[curve["at"] >= case.expected["first_zero_time"]]
    assert late["at"].iloc[0] == case.expected["first_zero_time"]
    assert curve.loc[curve["at"] < late["at"].iloc[0], "surviving_share"].gt(0).all()
    assert late["surviving_share"].eq(case.expected["surv_at_900"]).all()
    assert late[["low", "high"]].isna().all(axis=None)
    assert at_risk_from(curve, [900]) == [case.expected["n_risk_900"]]
    assert late["at_risk"].gt(0).all()


@pytest.mark.parametrize("case_id", case_ids("wb_"))
def test_a_weibull_fit_with_its_ratio_limits_comes_out_as_published(case_id):
    case = load_case(case_id)
    fit = weibull(case.spells, by=[], min_failures=3)[0]
    assert fit.because is None
    assert fit.log_likelihood == near(case, case.expected["loglik"])
    for mine, theirs in QUANTITIES:
        estimate = getattr(fit, mine)
        assert estimate.estimate == near(case, case.expected[theirs])
        assert estimate.low == near(case, case.expected[f"{theirs}_lr_lo"])
        assert estimate.high == near(case, case.expected[f"{theirs}_lr_hi"])


@pytest.mark.parametrize("case_id", [one for one in case_ids("wb_") if load_case(one).published])
def test_a_weibull_fit_rounds_to_the_printed_numbers(case_id):
    case = load_case(case_id)
    fit = weibull(case.spells, by=[], min_failures=3)[0]
    found = {theirs: getattr(fit, mine).estimate for mine, theirs in QUANTITIES}
    found |= {f"{theirs}_lr_lo": getattr(fit, mine).low for mine, theirs in QUANTITIES}
    found |= {f"{theirs}_lr_hi": getattr(fit, mine).high for mine, theirs in QUANTITIES}
    for key, printed in case.published.items():
        assert found[key] == pytest.approx(printed["value"], abs=printed["abs_tol"]), key


@pytest.mark.parametrize("case_id", case_ids("prop_"))
def test_wilson_limits_come_out_as_published(case_id):
    case = load_case(case_id)
    for k, n in case.data["x_n"]:
        low, high = case.expected[f"{k}/{n}"][:2]
        estimate = wilson(k, n, level=0.95)
        assert (estimate.low, estimate.high) == (near(case, low), near(case, high))
        assert share(k, n).share == k / n
        for place, limit in enumerate((estimate.low, estimate.high)):
            if printed := case.published.get(f"{k}/{n}|{place}"):
                assert limit == pytest.approx(printed["value"], abs=printed["abs_tol"])
