"""Logistic regression on counts, with a normal prior on each coefficient; without priors it is maximum likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.climb import climb
from pipelines.estimates.cox_robust import Partial


@dataclass(frozen=True)
class Logistic:
    """The top of the posterior, the covariance there, and the log evidence (Laplace; up to a constant of the counts)."""

    coefficient: np.ndarray
    covariance: np.ndarray
    log_evidence: float


def ridge_logistic(
    x: np.ndarray, k: np.ndarray, n: np.ndarray, *, prior_sd: np.ndarray, start: np.ndarray | None = None
) -> Logistic | None:
    """Fit logit P = x β to k passed of n, with β_j ~ N(0, prior_sd_j²); an infinite SD is no prior.

    x: (rows, coefficients), with a column of ones for the intercept; k, n: per row, fractions allowed.
    Returns None where there is no top: without a prior, where the columns part the passed from the failed.
    Source: MacKay (1992), Neural Computation 4:720–736; le Cessie & van Houwelingen (1992), Appl. Statist. 41:191–201
    (both from memory).
    """
    precision = 1 / np.square(prior_sd)

    def posterior(beta: np.ndarray) -> Partial:
        logit = x @ beta
        p = 1 / (1 + np.exp(-np.clip(logit, -700, 700)))
        value = k @ logit - n @ np.logaddexp(0, logit) - precision @ beta**2 / 2
        # (a table times its own transpose costs half as much)
        root = x * np.sqrt(n * p * (1 - p))[:, None]
        return Partial(float(value), x.T @ (k - n * p) - precision * beta, root.T @ root + np.diag(precision))

    found = climb(posterior, np.zeros(x.shape[1]) if start is None else start)
    if found is None:
        return None
    beta, top = found
    held = precision[precision > 0]
    evidence = top.value + (np.log(held).sum() - np.linalg.slogdet(top.information)[1]) / 2
    return Logistic(beta, np.linalg.inv(top.information), float(evidence))
