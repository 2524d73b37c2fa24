"""The hazard ratio of a batch to the rest made alike, whether it changes with age, and where the two cross.

Cox's partial likelihood of two samples in strata (the cells), with log ratio θ(t) = a + b·(log t − m): at each age of a failure
the chance that it falls on the batch is Y₁e^θ / (Y₁e^θ + Y₀). So nothing is assumed of the hazard itself. For Weibull lives b
is the shape of the batch less that of the rest. Variances by controller (sandwich), or for independent spells where larger.
Sources: Cox (1972); Lin & Wei (1989); limits of the crossing: Fieller (1954), JRSS B 16:175–185 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np

from pipelines.estimates.alike import Alike
from pipelines.estimates.climb import climb
from pipelines.estimates.clustered import LEAST_CLUSTERS
from pipelines.estimates.cox_robust import Partial
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because

#: A log ratio beyond this is none: the failures of the two sides do not overlap.
LARGEST = 30.0
#: Draws for where the curves cross, from a fixed seed.
DRAWS, SEED = 2000, 7


@dataclass(frozen=True)
class RatioByAge:
    """ratio: the one hazard ratio, batch over rest, as if it held at all ages.

    change: b, by how much the batch's shape is over the rest's; change_p: the chance of so large a one where the ratio holds
    at all ages; early, late: the ratio at the ages by which a tenth, and nine tenths, of the batch's failures had come.
    rates_cross: the age at which the ratio is 1; curves_cross: the age at which as many of the batch have failed as of the
    rest. Their limits are None where the age may lie anywhere on that side, or past what was watched.
    """

    ratio: Estimate
    change: Estimate
    change_p: float | None
    early_at: float | None
    early: Estimate
    late_at: float | None
    late: Estimate
    rates_cross: Estimate
    curves_cross: Estimate
    because: Because | None = None


@dataclass(frozen=True)
class _Fit:
    """beta and both covariances, by controller and for independent spells."""

    beta: np.ndarray
    robust: np.ndarray
    plain: np.ndarray

    def of(self, x: np.ndarray) -> tuple[float, float]:
        """Return x·beta and its standard error, the larger of both."""
        return float(x @ self.beta), float(np.sqrt(max(x @ self.robust @ x, x @ self.plain @ x)))


def ratio_by_age(pair: Alike, *, level: float = 0.95, min_failures: int = 6) -> RatioByAge:
    """Compare the hazards. Refused as `alike`; `no_failures` where a side has none (the ratio then has one limit), and
    `too_few_failures` under `min_failures` of either side, `too_few_clusters` under three controllers, `fit_failed`.
    """
    from scipy.stats import t

    clusters = len(np.unique(pair.rows.cluster[pair.rows.is_batch]))
    because = pair.because
    if because is None and clusters < LEAST_CLUSTERS:
        because = Because.TOO_FEW_CLUSTERS
    if because is None and not (pair.compared_failures and pair.rest_failures):
        because = Because.NO_FAILURES
    if because is not None:
        return _refused(Estimate.refused(because), because)
    q = float(t.ppf((1 + level) / 2, clusters - 1))
    flat = _fitted(pair, np.ones((len(pair.age), 1)))
    ratio = Estimate.refused(Because.FIT_FAILED) if flat is None else _ratio(flat, np.ones(1), q)
    if flat is None or min(pair.compared_failures, pair.rest_failures) < min_failures:
        because = Because.FIT_FAILED if flat is None else Because.TOO_FEW_FAILURES
        return _refused(ratio, because)
    failed = pair.batch_failed.sum(axis=0)
    early_at, late_at = (float(pair.age[np.searchsorted(np.cumsum(failed), part * failed.sum())]) for part in (0.1, 0.9))
    everyone = failed + pair.rest_failed.sum(axis=0)
    middle = float(np.log(pair.age) @ everyone / everyone.sum())
    fit = _fitted(pair, np.column_stack([np.ones(len(pair.age)), np.log(pair.age) - middle]))
    if fit is None or early_at == late_at:
        return _refused(ratio, Because.FIT_FAILED)
    b, error = fit.of(np.array([0.0, 1.0]))
    p = float(2 * t.sf(abs(b) / error, clusters - 1))
    early, late = (_ratio(fit, np.array([1.0, log(one) - middle]), q) for one in (early_at, late_at))
    rates = _rates_cross(fit, pair, middle, q)
    curves = _curves_cross(fit, pair, middle, level)
    return RatioByAge(ratio, Estimate(b, b - q * error, b + q * error), p, early_at, early, late_at, late, rates, curves)


def _refused(ratio: Estimate, because: Because) -> RatioByAge:
    none = Estimate.refused(because)
    return RatioByAge(ratio, none, None, None, none, None, none, none, none, because)


def _ratio(fit: _Fit, x: np.ndarray, q: float) -> Estimate:
    middle, error = fit.of(x)
    return Estimate(exp(middle), exp(middle - q * error), exp(middle + q * error))


def _fitted(pair: Alike, x: np.ndarray) -> _Fit | None:
    """Return the fit of the log ratio x·beta, x: (ages, columns); None where the likelihood has no maximum."""
    failed, won = pair.batch_failed + pair.rest_failed, pair.batch_failed.sum(axis=0)
    is_compared = pair.rest > 0

    def likelihood(beta: np.ndarray) -> Partial:
        log_ratio = x @ beta
        heavy = pair.batch * np.exp(log_ratio)
        total = np.where(is_compared, heavy + pair.rest, 1.0)
        chance = heavy / total
        value = won @ log_ratio - float((failed * np.log(total)).sum())
        information = (x * (failed * chance * (1 - chance)).sum(axis=0)[:, None]).T @ x
        return Partial(float(value), x.T @ (won - (failed * chance).sum(axis=0)), information)

    top = climb(likelihood, np.zeros(x.shape[1]))
    if top is None or np.abs(top[0]).max() > LARGEST:
        return None
    beta, information = top[0], top[1].information
    heavy = pair.batch * np.exp(x @ beta)
    total = np.where(is_compared, heavy + pair.rest, 1.0)
    chance, pace = heavy / total, failed / total
    end, parts = np.array([len(pair.age) - 1]), []
    for column in x.T:
        batch, rest = np.where(is_compared, (1 - chance) * column, 0.0), -chance * column
        taken = (batch * pace * np.exp(x @ beta), rest * pace)
        parts.append(pair.influence(end, taken=taken, gained=(batch, rest))[:, 0])
    summed = np.column_stack(parts)
    inverse = np.linalg.inv(information)
    clusters = len(summed)
    return _Fit(beta, inverse @ (summed.T @ summed) @ inverse * clusters / (clusters - 1), inverse)


def _rates_cross(fit: _Fit, pair: Alike, middle: float, q: float) -> Estimate:
    """Return where a + b·x = 0, with the ages at which it may be 0; refused where that is outside the ages compared."""
    a, b = fit.beta
    low, high = [], []
    for covariance in (fit.robust, fit.plain):
        bend, slope, flat = (q * q * covariance[1, 1] - b * b, q * q * covariance[0, 1] - a * b, q * q * covariance[0, 0] - a * a)
        # {x: (a + bx)² <= q²·var} is bounded only where b differs from 0.
        inside = slope**2 - bend * flat
        if bend >= 0 or inside < 0:
            return Estimate.refused(Because.NOT_REACHED)
        ends = sorted((-slope + sign * np.sqrt(inside)) / bend for sign in (-1, 1))
        low.append(ends[0])
        high.append(ends[1])
    return _within(-a / b + middle, min(low) + middle, max(high) + middle, pair)


def _within(middle: float, low: float, high: float, pair: Alike) -> Estimate:
    first, last = (log(one) for one in pair.age[[0, -1]])
    if not first < middle < last:
        return Estimate.refused(Because.NOT_REACHED)
    return Estimate.within(exp(middle), exp(low) if low > first else None, exp(high) if high < last else None)


def _curves_cross(fit: _Fit, pair: Alike, middle: float, level: float) -> Estimate:
    """Return where the cumulative hazards are equal: that of the rest made alike, and the same times the ratio at each age."""
    x = np.log(pair.age) - middle
    pace = (pair.rest_weight * pair.rest_failed).sum(axis=0) / np.maximum(pair.batch.sum(axis=0), 1)
    plain_is_larger = fit.plain[1, 1] > fit.robust[1, 1]
    sizes, directions = np.linalg.eigh(fit.plain if plain_is_larger else fit.robust)
    drawn = np.random.default_rng(SEED).standard_normal((DRAWS, 2)) * np.sqrt(np.maximum(sizes, 0.0)) @ directions.T
    beta = np.vstack([fit.beta, fit.beta + drawn])
    excess = np.cumsum(np.expm1(np.minimum(beta[:, :1] + beta[:, 1:] * x, LARGEST)) * pace, axis=1)
    way = np.sign(fit.beta[1])
    # Before the crossing the excess has the other sign; a draw without such a time crosses at once, one without an end never.
    is_over = way * excess >= 0
    place = np.where(is_over.any(axis=1), np.argmax(is_over, axis=1), len(x))
    ages = np.append(pair.age, np.inf)[place]
    ages[place == 0] = 0.0
    tail = (1 - level) / 2
    low, high = np.quantile(ages[1:], [tail, 1 - tail], method="inverted_cdf")
    if not 0 < ages[0] < np.inf:
        return Estimate.refused(Because.NOT_REACHED)
    return Estimate.within(float(ages[0]), float(low) if low > 0 else None, float(high) if high < np.inf else None)
