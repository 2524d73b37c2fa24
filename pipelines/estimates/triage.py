"""Triage: the chance that cleaning this stick passes, from what was found on it and what cleans of such sticks did."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import require, require_columns, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.grid import shares
from pipelines.estimates.pooled_share import FAMILY_SD, LEAST_LOG_SD
from pipelines.estimates.pooled_share_modes import METHOD_SD
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.ridge_logistic import Logistic, ridge_logistic
from pipelines.estimates.triage_columns import Columns
from pipelines.vocabulary import Because

#: With fewer cleans on record nothing is said of a single stick.
LEAST_ATTEMPTS = 40
#: Nodes over the log SD of families.
GRID = 5
#: The same draws in every call, and others than those of pooled shares: the two are multiplied.
SEED, DRAWS = 20_260_102, 4000
NODES, PARTS = np.polynomial.hermite_e.hermegauss(15)
PARTS = PARTS / PARTS.sum()


@dataclass(frozen=True)
class Triage:
    """What the record says of single sticks. attempts, passed: cleans it rests on; columns: those that it can use.

    `because`: why it says nothing of any stick.
    """

    attempts: int
    passed: int
    columns: tuple[str, ...]
    because: Because | None
    _columns: Columns
    _fit: Logistic | None

    def is_like_anything(self, cases: pd.DataFrame) -> np.ndarray:
        """Tell of each case whether sticks like it were ever cleaned: every reading within the range of those cleaned, every
        word among theirs, and its sensor type among those of its family. What a case leaves blank rules nothing out.
        """
        return self._columns.holds(cases)

    def chance(self, cases: pd.DataFrame, *, level: float = 0.95) -> list[Estimate]:
        """Return the chance (0–1) that a clean of each case passes, with limits: the posterior mean and quantiles.

        cases: the columns of `triage`, one row a stick; those lacking or blank count as not recorded.
        Refused as the whole record is, or as `unlike_any`.
        """
        z = normal_quantile(level)
        if self._fit is None:
            return [Estimate.refused(self.because)] * len(cases)
        logit, sd = self._logit(cases)
        mean, low, high = _mean_share(logit, sd), _expit(logit - z * sd), _expit(logit + z * sd)
        return [
            Estimate(*(float(one) for one in found)) if is_like else Estimate.refused(Because.UNLIKE_ANY)
            for *found, is_like in zip(mean, low, high, self.is_like_anything(cases), strict=True)
        ]

    def draws(self, cases: pd.DataFrame) -> np.ndarray:
        """Return draws of the chances, (DRAWS, cases), from the same posterior; the same in every call.

        Raises InputError where the record says nothing of one of the cases.
        """
        is_like = self.is_like_anything(cases)
        require(is_like & (self._fit is not None), "Nothing is known of such a stick", "Ask for its chance first.")
        return _expit(self._drawn @ self._columns.table(cases).T)

    @cached_property
    def _drawn(self) -> np.ndarray:
        root = np.linalg.cholesky(self._fit.covariance)
        return self._fit.coefficient + np.random.default_rng(SEED).standard_normal((DRAWS, len(root))) @ root.T

    def predicted(self, cases: pd.DataFrame) -> np.ndarray:
        """Return the posterior mean chance of each case, whether like any or not. Raises InputError if there is no fit."""
        if self._fit is None:
            raise InputError("The record says nothing of single sticks.", "Ask for the chance, which says why.")
        return _mean_share(*self._logit(cases))

    def _logit(self, cases: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
        x = self._columns.table(cases)
        return x @ self._fit.coefficient, np.sqrt(((x @ self._fit.covariance) * x).sum(axis=1))


def triage(attempts: pd.DataFrame, *, least_attempts: int = LEAST_ATTEMPTS) -> Triage:
    """Learn from the cleans on record which sticks a clean puts right.

    attempts: counts `passed_count` of `attempt_count` per any of: `family`, `sensor_type`, `mode`, `mechanism`, `depth`
    (words), `af_rest_offset_pct`, `af_jitter_pct`, `af_return_spread_pct`, `af_reach_pct`, `af_linearity_pct` (as found, or
    the mean of a band), `attempt_number` (which clean of this module), `failed_tries` (those before it since one passed).
    Blanks are allowed: not recorded is a level of its own, and a number then stands where those read let expect it. Where the
    log has no blank in a column but a case has, the prior alone says how much that may matter. Of more than 60 words in a
    column the rarest are taken for one.
    Fewer than `least_attempts` cleans are refused as `too_few_attempts`.
    Raises InputError on negative or infinite numbers and unless passed <= attempts.
    Method: logistic regression with priors N(0, 1) on standardised numbers and on words, N(0, σ²) on families with σ
    integrated on a grid (half-normal, 0.8), N(0, 1.8²) on the intercept; Laplace at each node, and one normal law with the
    mean and covariance of the mixture. It holds for sticks that the bench would choose to clean, as those on record were.
    Source: Gelman et al. (2008), Ann. Appl. Stat. 2:1360–1383 (from memory), with a normal in place of their Cauchy law.
    """
    require_columns(attempts, ["passed_count", "attempt_count"])
    n, k = whole_counts(attempts, "attempt_count"), whole_counts(attempts, "passed_count")
    require(k <= n, "More cleans passed than were made", "Count the passed among the attempts.")
    attempts, n, k = attempts[n > 0], n[n > 0], k[n > 0]
    columns = Columns.of(attempts, n)
    size = (int(n.sum()), int(k.sum()), columns.names)
    if size[0] < max(least_attempts, 1):
        return Triage(*size, Because.TOO_FEW_ATTEMPTS, columns, None)
    return Triage(*size, None, columns, _posterior(columns, columns.table(attempts), k, n))


def _posterior(columns: Columns, x: np.ndarray, k: np.ndarray, n: np.ndarray) -> Logistic:
    """Return one normal law of the coefficients, with σ of the families integrated out."""
    is_family = columns.is_family
    log_sd = np.linspace(LEAST_LOG_SD, np.log(4 * FAMILY_SD), GRID) if is_family.any() else np.zeros(1)
    plain = np.ones(x.shape[1])
    plain[0] = METHOD_SD
    fits, start = [], None
    for sd in np.exp(log_sd):
        fits.append(ridge_logistic(x, k, n, prior_sd=np.where(is_family, sd, plain), start=start))
        start = fits[-1].coefficient
    # The grid is even in log SD, hence its logarithm.
    log_weight = np.array([one.log_evidence for one in fits]) + log_sd - (np.exp(log_sd) / FAMILY_SD) ** 2 / 2
    weight = shares(log_weight)
    middles = np.array([one.coefficient for one in fits])
    mean = weight @ middles
    spread = sum(
        part * (one.covariance + np.outer(one.coefficient - mean, one.coefficient - mean))
        for part, one in zip(weight, fits, strict=True)
    )
    return Logistic(mean, spread, float(log_weight.max()))


def _mean_share(logit: np.ndarray, sd: np.ndarray) -> np.ndarray:
    return _expit(logit[:, None] + sd[:, None] * NODES) @ PARTS


def _expit(logit: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-np.clip(logit, -700, 700)))
