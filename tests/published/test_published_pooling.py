"""Partial pooling against two published groups of shares, each a beta-binomial by maximum likelihood; sources in cases.json.

What they prove: that ours shrinks such shares as the published model does, although the law between the families is logit-normal
here, and that its limits are wider than the plug-in ones, which take the spread between the families as known.
"""  # fmt: skip

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.special import betaln, gammaln
from scipy.stats import beta

from pipelines.estimates.pooled_share import pooled_share
from pipelines.estimates.proportion import wilson
from tests.published.cases import load_case, rows_of

CASES = ["betabinom_rat", "betabinom_surgical"]


def log_likelihood(k: np.ndarray, n: np.ndarray, a: float, b: float) -> float:
    chance = betaln(k + a, n - k + b) - betaln(a, b)
    return float((gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1) + chance).sum())


def beta_binomial(k: np.ndarray, n: np.ndarray) -> tuple[float, float, float]:
    """Return the beta law's two parameters by maximum likelihood, and the log-likelihood there."""
    found = minimize(
        lambda logs: -log_likelihood(k, n, *np.exp(logs)), np.log([2.0, 20.0]), method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
    )  # fmt: skip
    return (*np.exp(found.x), -found.fun)


@pytest.fixture(params=CASES, scope="module")
def read(request):
    case = load_case(request.param)
    rows = rows_of(case)
    k, n = rows["y"].to_numpy(dtype=float), rows["n"].to_numpy(dtype=float)
    cells = pd.DataFrame({"method": None, "family": np.arange(len(k)), "k": k, "n": n})
    return case, k, n, pooled_share(cells).cells


def test_the_beta_binomial_itself_comes_out_as_computed_elsewhere(read):
    case, k, n, _ = read
    a, b, value = beta_binomial(k, n)
    near = {"rel": case.rel_tol}
    assert (a, b) == pytest.approx((case.expected["alpha_ml"], case.expected["beta_ml"]), **near)
    assert value == pytest.approx(case.expected["loglik_ml"], **near)
    shrunk = (k + a) / (n + a + b)
    if "shrunk" in case.expected:
        assert shrunk == pytest.approx(case.expected["shrunk"], **near)
        assert beta.ppf(0.025, k + a, n - k + b) == pytest.approx(case.expected["lo"], **near)
        assert beta.ppf(0.975, k + a, n - k + b) == pytest.approx(case.expected["hi"], **near)
    else:
        assert (shrunk[0], shrunk[70]) == pytest.approx((case.expected["shrunk_1"], case.expected["shrunk_71"]), **near)


def test_our_mean_shares_are_those_of_the_beta_binomial_up_to_the_law_between_the_families(read):
    case, k, n, cells = read
    a, b = case.expected["alpha_ml"], case.expected["beta_ml"]
    theirs, ours = (k + a) / (n + a + b), np.array([one.mean_share for one in cells])
    sd = np.sqrt(theirs * (1 - theirs) / (n + a + b + 1))
    assert np.abs((ours - theirs) / sd).max() < 0.5
    assert np.corrcoef(ours, theirs)[0, 1] > 0.99
    # Much nearer to it than the raw shares, which shrink nothing.
    assert np.abs(ours - theirs).mean() < 0.3 * np.abs(k / n - theirs).mean()


def test_our_limits_are_wider_than_plug_in_ones_and_narrower_than_those_of_single_families(read):
    case, k, n, cells = read
    a, b = case.expected["alpha_ml"], case.expected["beta_ml"]
    plug_in = beta.ppf(0.975, k + a, n - k + b) - beta.ppf(0.025, k + a, n - k + b)
    ours = [one.share.high - one.share.low for one in cells]
    alone = [one.high - one.low for one in map(wilson, k, n)]
    assert np.mean(plug_in) < np.mean(ours) < np.mean(alone)
