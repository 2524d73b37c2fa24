"""The likelihood of Weibull lives with a shared gamma factor, its slopes and its second slopes, from counts by cluster."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pipelines.estimates.cox_robust import Partial

#: Parameters: log scale (over the longest time), log shape, variance of the factor.
SCALE, SHAPE, VARIANCE = 0, 1, 2


class Lives:
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
        found = self.partial(theta)
        return found.value, found.score

    def partial(self, theta: np.ndarray) -> Partial:
        """Return the log-likelihood, without its constant, its slopes, and minus its second slopes."""
        variance, shape = theta[VARIANCE], np.exp(theta[SHAPE])
        z, whole = self._hazard(theta, self._log_at, self._count, self._cluster)
        _, before = self._hazard(theta, self._log_entry, self._late_count, self._late_cluster)
        j, total, lift = np.arange(len(self._more_than)), self._failing.sum(), self._failing @ z
        value, slopes, bends = _pooled(variance, whole, self._failed)
        value_before, slopes_before, bends_before = _pooled(variance, before, np.zeros(self._clusters))
        each = j / (1 + j * variance)
        bends = bends - bends_before
        bends[SCALE, SHAPE] += shape * total
        bends[SHAPE, SCALE] += shape * total
        bends[SHAPE, SHAPE] -= lift
        bends[VARIANCE, VARIANCE] += self._more_than @ each**2
        return Partial(
            float(total * theta[SHAPE] + lift + self._more_than @ np.log1p(j * variance) - value + value_before),
            np.array([-shape * total, total + lift, self._more_than @ each]) - slopes + slopes_before,
            bends,
        )

    def _hazard(self, theta, log_time, count, cluster) -> tuple[np.ndarray, _Hazard]:
        """Return log H by spell; H, its slopes and second slopes in log scale and log shape summed by cluster."""
        shape = np.exp(theta[SHAPE])
        z = shape * (log_time - theta[SCALE])
        hazard = count * np.exp(np.minimum(z, 200.0))
        whole, by_shape, twice = (
            np.bincount(cluster, weights=one, minlength=self._clusters) for one in (hazard, z * hazard, z * z * hazard)
        )
        bends = (shape**2 * whole, -shape * (whole + by_shape), by_shape + twice)
        return z, _Hazard(whole, np.array([-shape * whole, by_shape]), bends)


class _Hazard(NamedTuple):
    """By cluster: the hazard, its slopes (2, clusters), and its second slopes (scale twice, both, shape twice)."""

    whole: np.ndarray
    slopes: np.ndarray
    bends: tuple[np.ndarray, np.ndarray, np.ndarray]


def _pooled(variance: float, hazard: _Hazard, failed: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Return Σ log(1 + variance·H)·(1 / variance + failed) over the clusters, its slopes and second slopes."""
    whole = hazard.whole
    grown = 1 + variance * whole
    ratio, ratio_slope, ratio_bend = _log_ratio(variance, whole)
    pull = (1 + variance * failed) / grown
    by_both = (failed - whole) / grown**2
    corner = hazard.slopes @ by_both
    scale_twice, both, shape_twice = (pull @ one for one in hazard.bends)
    bends = np.empty((3, 3))
    bends[:VARIANCE, :VARIANCE] = np.array([[scale_twice, both], [both, shape_twice]])
    bends[:VARIANCE, :VARIANCE] -= (hazard.slopes * (variance * pull / grown)) @ hazard.slopes.T
    bends[:VARIANCE, VARIANCE] = bends[VARIANCE, :VARIANCE] = corner
    bends[VARIANCE, VARIANCE] = (ratio_bend - failed * (whole / grown) ** 2).sum()
    by_variance = (ratio_slope + failed * whole / grown).sum()
    return float((ratio + failed * np.log1p(variance * whole)).sum()), np.append(hazard.slopes @ pull, by_variance), bends


def _log_ratio(variance: float, hazard: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return log(1 + variance·H) / variance, its slope and second slope in the variance; H, −H²/2 and 2H³/3 at 0."""
    product = variance * hazard
    is_small = product < 1e-4
    safe, kept = variance if variance > 0 else 1.0, hazard / (1 + product)
    ratio = np.where(is_small, hazard * (1 - product / 2 + product**2 / 3), np.log1p(product) / safe)
    slope = np.where(is_small, -(hazard**2) * (0.5 - 2 * product / 3), (kept - ratio) / safe)
    bend = np.where(is_small, np.where(is_small, hazard, 0.0) ** 3 * (2 / 3 - 1.5 * product), -(kept**2 + 2 * slope) / safe)
    return ratio, slope, bend
