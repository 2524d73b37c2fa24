"""Lives of a given law against published and recomputed values, each at its case's tolerance; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.fixed_shape import fixed_shape
from pipelines.estimates.lognormal import lognormal
from pipelines.estimates.weibull import weibull
from tests.published.cases import Case, case_ids, load_case


def near(case: Case, expected):
    return pytest.approx(expected, rel=case.rel_tol, abs=1e-9)


@pytest.mark.parametrize("case_id", case_ids("ln_"))
def test_a_lognormal_fit_with_its_ratio_limits_comes_out_as_published(case_id):
    case = load_case(case_id)
    (fit,) = lognormal(case.spells, by=[], min_failures=3)
    assert fit.because is None
    assert fit.log_likelihood == near(case, case.expected["loglik"])
    assert np.log(fit.median.estimate) == near(case, case.expected["mu"])
    limits = 0
    for estimate, theirs in ((fit.log_sd, "sigma"), (fit.b10, "B10"), (fit.median, "B50")):
        assert estimate.estimate == near(case, case.expected[theirs])
        for side, limit in (("lo", estimate.low), ("hi", estimate.high)):
            if f"{theirs}_lr_{side}" in case.expected:
                assert limit == near(case, case.expected[f"{theirs}_lr_{side}"])
                limits += 1
    if "mu_lr_lo" in case.expected:
        assert np.log(fit.median.low) == near(case, case.expected["mu_lr_lo"])
        assert np.log(fit.median.high) == near(case, case.expected["mu_lr_hi"])
    # The source of one case gives no ratio limits.
    assert limits == (0 if case_id == "ln_channing_male" else 6)


@pytest.mark.parametrize(("prefix", "fitted"), [("wb_", weibull), ("ln_", lognormal)])
def test_the_share_surviving_a_published_limit_is_the_share_it_was_published_for(prefix, fitted):
    # A ratio limit of the age by which 1, 10 or 50 % have failed is the age at which the same limit of the share is met.
    met = 0
    for case in map(load_case, case_ids(prefix)):
        for name, left in (("B1", 0.99), ("B10", 0.9), ("B50", 0.5)):
            if f"{name}_lr_lo" not in case.expected:
                continue
            ages = [case.expected[key] for key in (f"{name}_lr_lo", name, f"{name}_lr_hi")]
            (fit,) = fitted(case.spells, by=[], min_failures=3, ages=ages)
            found = fit.surviving[0].low, fit.surviving[1].estimate, fit.surviving[2].high
            assert found == near(case, (left, left, left)), (case.id, name)
            met += 1
    assert met >= 12


@pytest.mark.parametrize("shape", [1.5, 2, 3])
def test_lives_of_an_assumed_shape_come_out_as_published(shape):
    # The published limits are one-sided at 95 %, which is one side of 90 %.
    case = load_case("weibayes_bearingcage")
    (fit,) = fixed_shape(case.spells, by=[], shape=shape, level=0.9)
    assert (fit.failures, fit.is_one_sided, fit.because) == (6, False, None)
    for estimate, name in ((fit.life.scale, "eta"), (fit.life.b10, "B10")):
        assert estimate.estimate == near(case, case.expected[f"beta{shape}_{name}_mle"])
        assert estimate.low == near(case, case.expected[f"beta{shape}_{name}_lower"])


@pytest.mark.parametrize("shape", [1, 1.5, 2, 3])
def test_without_failures_the_lower_limits_come_out_as_published(shape):
    case = load_case("weibayes_zero_failures")
    spells = pd.DataFrame({"entry": 0.0, "lower": case.data["time"], "upper": np.inf, "spell_count": case.data["n"]})
    (fit,) = fixed_shape(spells, by=[], shape=shape, level=case.data["conf"])
    assert fit.is_one_sided
    assert fit.life.scale.low == near(case, case.expected[f"beta{shape}_eta_lower95"])
    assert fit.life.b10.low == near(case, case.expected[f"beta{shape}_B10_lower95"])
    assert np.exp(-((10 / fit.life.scale.low) ** shape)) == near(case, case.expected[f"beta{shape}_R10_lower95"])
