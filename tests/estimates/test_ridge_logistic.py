"""Logistic regression with priors: against scipy's optimiser, and the evidence against numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize
from scipy.stats import norm

from pipelines.estimates.ridge_logistic import ridge_logistic


def made(seed: int, rows: int = 60):
    rng = np.random.default_rng(seed)
    x = np.column_stack([np.ones(rows), rng.normal(size=(rows, 3))])
    n = rng.integers(1, 4, rows).astype(float)
    return x, rng.binomial(n.astype(int), 1 / (1 + np.exp(-x @ [0.5, 1.0, -0.7, 0.0]))).astype(float), n


@pytest.mark.parametrize("prior_sd", [0.3, 1.0, np.inf])
def test_the_top_and_its_curvature_are_scipys(prior_sd):
    x, k, n = made(1)

    def loss(beta):
        logit = x @ beta
        return n @ np.logaddexp(0, logit) - k @ logit + (beta**2).sum() / prior_sd**2 / 2

    best = minimize(loss, np.zeros(4), method="BFGS", options={"gtol": 1e-9})
    fit = ridge_logistic(x, k, n, prior_sd=np.full(4, prior_sd))
    assert fit.coefficient == pytest.approx(best.x, abs=1e-6)
    step = 1e-4 * np.eye(4)
    curved = [
        [(loss(best.x + a + b) - loss(best.x + a - b) - loss(best.x - a + b) + loss(best.x - a - b)) / (4 * 1e-8) for b in step]
        for a in step
    ]
    assert np.linalg.inv(fit.covariance) == pytest.approx(np.array(curved), rel=1e-4, abs=1e-4)


def test_counts_are_their_rows():
    x, k, n = made(2)
    rows = [(one, passed) for one, much, many in zip(x, k, n, strict=True) for passed in [1] * int(much) + [0] * int(many - much)]
    expanded, passed = np.array([one for one, _ in rows]), np.array([float(one) for _, one in rows])
    counted = ridge_logistic(x, k, n, prior_sd=np.ones(4))
    by_row = ridge_logistic(expanded, passed, np.ones(len(passed)), prior_sd=np.ones(4))
    assert counted.coefficient == pytest.approx(by_row.coefficient, abs=1e-9)
    assert counted.log_evidence == pytest.approx(by_row.log_evidence, abs=1e-9)


def test_the_evidence_tells_priors_apart_as_integration_does():
    k, n = np.array([14.0]), np.array([20.0])

    def evidence(sd):
        return np.log(quad(lambda b: norm.pdf(b, 0, sd) * np.exp(k[0] * b - n[0] * np.logaddexp(0, b) + 12), -12, 12)[0])

    found = [ridge_logistic(np.ones((1, 1)), k, n, prior_sd=np.array([sd])).log_evidence for sd in (0.5, 2.0)]
    assert found[1] - found[0] == pytest.approx(evidence(2.0) - evidence(0.5), abs=0.02)


def test_a_parting_column_has_no_top_without_a_prior_and_one_with_it():
    x = np.column_stack([np.ones(6), [-3.0, -2, -1, 1, 2, 3]])
    k, n = np.array([0.0, 0, 0, 1, 1, 1]), np.ones(6)
    assert ridge_logistic(x, k, n, prior_sd=np.full(2, np.inf)) is None
    assert np.isfinite(ridge_logistic(x, k, n, prior_sd=np.ones(2)).coefficient).all()
