"""Weibull lives of things that share a fate: each cluster's hazard is multiplied by a gamma factor of mean 1.

Ignoring it makes hazards of survivors look milder with age, so the shape comes out too low (at a variance of 0.3 a shape of
2 becomes 1.7 to 1.8). The factor is integrated out in closed form; with late entry the likelihood is given that all spells of
the cluster were well at their entries.
Sources: Clayton (1978); Duchateau & Janssen (2008), The Frailty Model, chapter 2; late entry: Jensen et al. (2004), Biometrics
60:1013 (all from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.climb import climb
from pipelines.estimates.counts import group, require, require_columns, times, whole_counts
from pipelines.estimates.cox_robust import Partial
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.weibull import WeibullFit, weibull
from pipelines.vocabulary import Because

#: So many clusters must have two spells or more, or nothing is shared.
LEAST_CLUSTERS = 3
#: A limit further than this factor from its estimate, or a variance beyond 1,000, counts as not reached.
FURTHEST, LARGEST_VARIANCE = np.log(1e6), 1e3
#: Parameters: log scale (over the longest time), log shape, variance of the factor.
SCALE, SHAPE, VARIANCE = 0, 1, 2


@dataclass(frozen=True)
class FrailtyFit:
    """One group's fit. Given its factor z a spell is well past t with probability exp(−z·(t / scale)^shape).

    scale in the clock's unit; variance: of the factors, 0 where all clusters are alike. All with likelihood-ratio limits.
    shape_ignoring: the shape of `weibull`, which takes the spells for independent. log_likelihood, log_likelihood_ignoring:
    of densities in the clock's unit. because: why there is no fit, else None.
    """

    by: tuple
    spells: int
    failures: int
    cluster_count: int
    because: Because | None
    shape: Estimate
    scale: Estimate
    variance: Estimate
    shape_ignoring: Estimate
    log_likelihood: float | None
    log_likelihood_ignoring: float | None


def frailty(spells: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_failures: int = 6) -> list[FrailtyFit]:
    """Fit a Weibull distribution with a shared gamma factor to each group of counted spells.

    spells: counts per `by`, `cluster`, `entry`, `at` (0 <= entry < at, in the clock's unit), `is_failure`, `spell_count`.
    Refused as `weibull` is, and with `too_few_clusters` where under three clusters have two spells or more. The low limit of
    the variance is 0 where the ratio does not reject it.
    Raises InputError.
    """
    z = normal_quantile(level)
    require_columns(spells, ["cluster", "entry", "at", "is_failure", "spell_count"])
    count = whole_counts(spells, "spell_count")
    spells, count = spells[count > 0], count[count > 0]
    entry, at = times(spells, "entry"), times(spells, "at")
    require(np.isfinite(at) & (entry < at), "A spell ends nowhere, or has no length", "Leave such spells out.")
    is_failure = spells["is_failure"].to_numpy(dtype=bool)
    plain = weibull(
        spells.assign(lower=at, upper=np.where(is_failure, at, np.inf)), by=by, level=level, min_failures=min_failures
    )
    code, clusters = group([spells], by=by).codes[0], group([spells], by=["cluster"]).codes[0]
    order = np.argsort(code, kind="stable")
    bounds = np.searchsorted(code[order], np.arange(len(plain) + 1))
    found = []
    for number, fit in enumerate(plain):
        mine = order[bounds[number] : bounds[number + 1]]
        _, cluster = np.unique(clusters[mine], return_inverse=True)
        found.append(_fit(fit, entry[mine], at[mine], is_failure[mine], count[mine], cluster, z=z))
    return found


def _fit(plain: WeibullFit, entry, at, is_failure, count, cluster, *, z: float) -> FrailtyFit:
    shared = int((np.bincount(cluster, weights=count) > 1).sum())
    size = (plain.by, plain.spells, plain.failures, int(cluster.max()) + 1)
    because = plain.because or (Because.TOO_FEW_CLUSTERS if shared < LEAST_CLUSTERS else None)
    if because is None:
        lives = _Lives(entry / at.max(), at / at.max(), is_failure, count, cluster)
        start = np.array([np.log(plain.scale.estimate / at.max()), np.log(plain.shape.estimate), 0.0])
        top = _top(lives, start, ())
        because = Because.FIT_FAILED if top is None else None
    if because is not None:
        return FrailtyFit(*size, because, *[Estimate.refused(because)] * 3, plain.shape, None, plain.log_likelihood)
    theta, value = top
    alone = lives.likelihood(start)[0]
    logs = [[_limit(lives, top, one, side, z) for side in (-1, 1)] for one in (SHAPE, SCALE)]
    is_clear = 2 * (value - alone) > z * z
    low = _limit(lives, top, VARIANCE, -1, z) if is_clear else 0.0
    shape = Estimate.within(float(np.exp(theta[SHAPE])), *(None if one is None else float(np.exp(one)) for one in logs[0]))
    scale = Estimate.within(
        float(np.exp(theta[SCALE]) * at.max()), *(None if one is None else float(np.exp(one) * at.max()) for one in logs[1])
    )
    variance = Estimate.within(float(theta[VARIANCE]), low, _limit(lives, top, VARIANCE, 1, z))
    return FrailtyFit(
        *size, None, shape, scale, variance, plain.shape, plain.log_likelihood + value - alone, plain.log_likelihood
    )


class _Lives:
    """One group's spells, times over the longest, and its likelihood at (log scale, log shape, variance)."""

    def __init__(self, entry, at, is_failure, count, cluster) -> None:
        late = entry > 0
        self._log_at, self._log_entry = np.log(at), np.log(entry[late])
        self._count, self._late_count = count.astype(float), count[late].astype(float)
        self._cluster, self._late_cluster = cluster, cluster[late]
        self._failing = count * is_failure
        self._clusters = int(cluster.max()) + 1
        self._failed = np.bincount(cluster, weights=self._failing, minlength=self._clusters)
        # How many clusters have more than j failures, for j = 0, 1, …
        self._more_than = self._clusters - np.cumsum(np.bincount(self._failed.astype(np.int64)))[:-1]

    def likelihood(self, theta: np.ndarray) -> tuple[float, np.ndarray]:
        """Return the log-likelihood, without its constant, and its slopes."""
        variance, shape = theta[VARIANCE], np.exp(theta[SHAPE])
        z, all_hazard, by_scale, by_shape = self._hazard(theta, self._log_at, self._count, self._cluster)
        _, before, before_scale, before_shape = self._hazard(theta, self._log_entry, self._late_count, self._late_cluster)
        j = np.arange(len(self._more_than))
        total, failed = self._failing.sum(), self._failed
        ratio, ratio_slope = _log_ratio(variance, all_hazard)
        ratio_before, slope_before = _log_ratio(variance, before)
        grown = np.log1p(variance * all_hazard)
        value = (
            total * theta[SHAPE] + self._failing @ z + self._more_than @ np.log1p(j * variance)
            - (ratio + failed * grown).sum() + ratio_before.sum()
        )  # fmt: skip
        pull = (1 + variance * failed) / (1 + variance * all_hazard)
        pull_before = 1 / (1 + variance * before)
        slopes = [
            -total * shape - pull @ by_scale + pull_before @ before_scale,
            total + self._failing @ z - pull @ by_shape + pull_before @ before_shape,
            self._more_than @ (j / (1 + j * variance))
            - (ratio_slope + failed * all_hazard / (1 + variance * all_hazard)).sum() + slope_before.sum(),
        ]  # fmt: skip
        return float(value), np.array(slopes)

    def _hazard(self, theta, log_time, count, cluster) -> tuple[np.ndarray, ...]:
        """Return log H by spell; H and its slopes in log scale and log shape summed by cluster."""
        shape = np.exp(theta[SHAPE])
        z = shape * (log_time - theta[SCALE])
        hazard = count * np.exp(np.minimum(z, 200.0))
        whole = np.bincount(cluster, weights=hazard, minlength=self._clusters)
        return z, whole, -shape * whole, np.bincount(cluster, weights=z * hazard, minlength=self._clusters)


def _log_ratio(variance: float, hazard: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return log(1 + variance·H) / variance and its slope in the variance; H and −H²/2 at 0."""
    product = variance * hazard
    is_small = product < 1e-4
    safe = variance if variance > 0 else 1.0
    ratio = np.where(is_small, hazard * (1 - product / 2 + product**2 / 3), np.log1p(product) / safe)
    slope = np.where(is_small, -(hazard**2) * (0.5 - 2 * product / 3), (hazard / (1 + product) - ratio) / safe)
    return ratio, slope


def _top(lives: _Lives, start: np.ndarray, fixed: Sequence[int]) -> tuple[np.ndarray, float] | None:
    """Return the best parameters with those of `fixed` held, and the likelihood there.

    First at variance 0; only where the likelihood rises from there on is the variance let go, on its log.
    """
    free = [one for one in (SCALE, SHAPE) if one not in fixed]
    if VARIANCE in fixed:
        return _climbed(lives, start, free, is_variance_free=False)
    alone = _climbed(lives, np.append(start[:2], 0.0), free, is_variance_free=False)
    if alone is not None and lives.likelihood(alone[0])[1][VARIANCE] <= 0:
        return alone
    for variance in (max(start[VARIANCE], 0.05), 0.5, 2.0):
        best = _climbed(lives, np.append(start[:2], variance), free, is_variance_free=True)
        if best is not None:
            return best
    return None


def _climbed(lives: _Lives, start: np.ndarray, free: list[int], *, is_variance_free: bool) -> tuple[np.ndarray, float] | None:
    moving = [*free, VARIANCE] if is_variance_free else free

    def placed(at: np.ndarray) -> np.ndarray:
        theta = start.copy()
        theta[moving] = at
        if is_variance_free:
            theta[VARIANCE] = np.exp(np.minimum(at[-1], 20.0))
        return theta

    def scored(at: np.ndarray) -> tuple[float, np.ndarray]:
        theta = placed(at)
        value, slopes = lives.likelihood(theta)
        if is_variance_free:
            slopes[VARIANCE] *= theta[VARIANCE]
        return value, slopes[moving]

    first = start[moving].copy()
    if is_variance_free:
        first[-1] = np.log(start[VARIANCE])
    best = climb(_with_information(scored), first)
    return None if best is None else (placed(best[0]), best[1].value)


def _with_information(scored: Callable) -> Callable[[np.ndarray], Partial]:
    """Return the likelihood with its curvature by differences of the slopes: near enough for Newton's steps."""
    step = 1e-6

    def likelihood(at: np.ndarray) -> Partial:
        value, slopes = scored(at)
        moves = step * np.eye(len(at))
        information = np.array([(slopes - scored(at + move)[1]) / step for move in moves])
        return Partial(value, slopes, (information + information.T) / 2)

    return likelihood


def _limit(lives: _Lives, top: tuple[np.ndarray, float], which: int, side: int, z: float) -> float | None:
    """Return where the profile of one parameter has dropped by z²/2 on one side; None where it does not."""
    from scipy.optimize import brentq

    theta, value = top

    def drop(distance: float) -> float:
        at = theta.copy()
        at[which] = _moved(theta[which], side * distance, which)
        best = _top(lives, at, (which,))
        return np.inf if best is None else 2 * (value - best[1]) - z * z

    far = 0.1
    while (dropped := drop(far)) < 0:
        far *= 2
        if far > FURTHEST or (which == VARIANCE and _moved(theta[which], side * far, which) > LARGEST_VARIANCE):
            return None
    if not np.isfinite(dropped):
        return None
    return float(_moved(theta[which], side * brentq(drop, 0.0, far, xtol=1e-7, rtol=1e-7), which))


def _moved(at: float, distance: float, which: int) -> float:
    """Return a log moved by a distance; a variance is moved by it on a scale that reaches 0."""
    return at + distance if which != VARIANCE else max(0.0, (at + 0.05) * np.exp(distance) - 0.05)
