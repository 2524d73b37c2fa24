"""The likelihood of gaps between cleans: age partly given back by each clean, and controllers that differ.

A stick at age v drifts with cumulative hazard z·H(v), H(v) = exp(c + βx), x = log v over the longest gap. A clean
leaves the share q of the age: of the whole age, v ← q(v + gap), or only of the age gained since the last clean,
v ← v + q·gap. Each controller has a factor z of its own, gamma with mean 1 and variance θ, shared by all its gaps.
With failures at known times z integrates in closed form. A failure between two looks, exp(−zH_l) − exp(−zH_r), is
zΔ·exp(−z(H_l + H_r)/2)·sinhc(zΔ/2), Δ = H_r − H_l: the closed form at the middle times the mean of a smooth factor
near 1, taken by Gauss–Hermite nodes in log z. Late entry conditions z on having survived to the entries.
Sources: Kijima (1989), Doyen & Gaudoin (2004) for the ages; Duchateau & Janssen (2008) for the factor (from memory).
"""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import numpy as np

from pipelines.estimates.restoration_gaps import Gaps
from pipelines.estimates.restoration_product import Products, log_sinhc
from pipelines.estimates.weibull_likelihood import SMALLEST_HAZARD, hazard_of

#: With these the integral is right to 1e-6 up to a variance of 1.5.
NODE, NODE_WEIGHT = np.polynomial.hermite_e.hermegauss(16)
SMALLEST_AGE = 1e-290


class Slopes(NamedTuple):
    """The log-likelihood and its slopes in c, the shape β, the share kept of each kind, and the variance θ."""

    value: float
    c: float
    shape: float
    kept: np.ndarray
    variance: float


class Likelihood:
    """The log-likelihood of one group's gaps; is_whole: by kind, a clean acts on the whole age."""

    def __init__(self, gaps: Gaps, is_whole: np.ndarray) -> None:
        self.gaps, self.is_whole = gaps, is_whole
        seen, between = gaps.is_seen, np.flatnonzero(gaps.is_between)
        # A cluster's failures between looks stand together, so that they are summed in one stretch.
        between = between[np.argsort(gaps.cluster[between], kind="stable")]
        starts = np.flatnonzero(seen & (gaps.kind >= 0))
        late, closed = np.flatnonzero(seen & (gaps.entry > 0)), np.flatnonzero(seen & ~gaps.is_between)
        parts = [
            # rows, age since the clean, weight in the cluster's whole hazard, weight in its hazard before the entries
            (starts, 0.0, -1.0, -1.0 * (gaps.entry[starts] > 0)),
            (late, gaps.entry[late], 0.0, 1.0),
            (closed, gaps.lower[closed], 1.0, 0.0),
            (between, gaps.lower[between], 0.5, 0.0),
            (between, gaps.upper[between], 0.5, 0.0),
        ]
        rows = [part[0] for part in parts]
        self.row = np.concatenate(rows)
        self.since, self.weight, self.late_weight = (
            np.concatenate([np.broadcast_to(part[column], len(part[0])) for part in parts]) for column in (1, 2, 3)
        )
        total = len(self.row)
        self.lows, self.highs = slice(total - 2 * len(between), total - len(between)), slice(total - len(between), total)
        self.exact_point = len(starts) + len(late) + np.flatnonzero(gaps.is_exact[closed])
        self.point_cluster = gaps.cluster[self.row]
        self.failures = np.bincount(gaps.cluster[gaps.is_exact | gaps.is_between], minlength=gaps.cluster_count)
        is_first = np.append(True, np.diff(gaps.cluster[between]) > 0)[: len(between)]
        self.stretch = np.flatnonzero(is_first)
        self.stretch_of = np.cumsum(is_first) - 1
        self.between_cluster = gaps.cluster[between][self.stretch]
        self.is_whole_row = np.append(is_whole, False)[gaps.kind]

    @cached_property
    def _ordinal(self) -> np.ndarray:
        return np.arange(max(int(self.failures.max(initial=0)), 1))

    @cached_property
    def _later(self) -> tuple[slice, np.ndarray, np.ndarray, np.ndarray]:
        """Gaps that a clean opened: their rows, kinds, parents, and the age gained in the gap before."""
        gaps = self.gaps
        rows = slice(gaps.layers[0].stop, len(gaps.kind)) if gaps.layers else slice(0, 0)
        return rows, gaps.kind[rows], gaps.parent[rows], gaps.length[gaps.parent[rows]]

    def ages(self, kept: np.ndarray) -> np.ndarray:
        """Return the age left at the start of each gap; kept: (…, kinds), returned: (…, gaps)."""
        rows, kind, _, gained = self._later
        age = np.zeros((*kept.shape[:-1], len(self.gaps.kind)))
        share = kept[..., kind]
        age[..., rows] = share * gained
        left = np.where(self.is_whole_row[rows], share, 1.0)
        for layer in self.gaps.layers[1:]:
            mine = slice(layer.start - rows.start, layer.stop - rows.start)
            age[..., layer] += left[..., mine] * age[..., self.gaps.parent[layer]]
        return age

    def sums(self, point_values: np.ndarray, weight: np.ndarray) -> np.ndarray:
        """Return weighted sums of values at the points, by cluster."""
        return np.bincount(self.point_cluster, weights=weight * point_values, minlength=self.gaps.cluster_count)

    def hazards(self, c: np.ndarray, shape: np.ndarray, age: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return log age and cumulative hazard at every point; c, shape: (…), age: at the start of each gap, (…, gaps)."""
        log_age = np.log(np.maximum(age[..., self.row] + self.since, SMALLEST_AGE))
        return log_age, hazard_of(np.asarray(c)[..., None] + np.asarray(shape)[..., None] * log_age)

    def slopes(self, c: float, shape: float, kept: np.ndarray, variance: float) -> Slopes:
        """Return the log-likelihood and its slopes. variance 0 is one factor for all controllers."""
        age = self.ages(kept)
        log_age, hazard = self.hazards(c, shape, age)
        whole, late = self.sums(hazard, self.weight), self.sums(hazard, self.late_weight)
        width = np.maximum(hazard[self.highs] - hazard[self.lows], SMALLEST_HAZARD)
        smooth = self._smooth(width, whole, variance)
        centred = whole.copy()
        centred[self.between_cluster] -= smooth.shift
        pooled, pooled_slope = _pooled(centred, variance)
        pooled_late, late_slope = _pooled(late, variance)
        table = np.append(0.0, np.cumsum(np.log1p(variance * self._ordinal)))
        table_slope = np.append(0.0, np.cumsum(self._ordinal / (1 + variance * self._ordinal)))
        spread = np.log1p(variance * centred)
        exact_log = log_age[self.exact_point]
        value = (table[self.failures] - pooled - self.failures * spread + pooled_late).sum() + smooth.value.sum()
        value += len(exact_log) * (np.log(shape) + c - np.log(self.gaps.unit)) + (shape - 1) * exact_log.sum()
        value += np.log(width).sum()
        by_variance = table_slope[self.failures] - pooled_slope + late_slope - self.failures * centred / (1 + variance * centred)

        factor = (1 + variance * self.failures) / (1 + variance * centred)
        factor[self.between_cluster] = smooth.factor
        pull = -self.weight * factor[self.point_cluster] + self.late_weight / (1 + variance * late)[self.point_cluster]
        pull[self.highs] += 1 / width + smooth.pull
        pull[self.lows] -= 1 / width + smooth.pull
        pulled = pull * hazard
        by_age = shape * pulled / np.exp(log_age)
        by_age[self.exact_point] += (shape - 1) / np.exp(exact_log)
        return Slopes(
            float(value),
            len(exact_log) + pulled.sum(),
            len(exact_log) / shape + exact_log.sum() + (pulled * log_age).sum(),
            self._by_kept(np.bincount(self.row, weights=by_age, minlength=len(self.gaps.kind)), age, kept),
            float(by_variance.sum() + smooth.by_variance.sum()),
        )

    def _by_kept(self, by_age: np.ndarray, age: np.ndarray, kept: np.ndarray) -> np.ndarray:
        """Carry the slopes in the ages back along the chains to the share kept of each kind."""
        rows, kind, parent, gained = self._later
        is_whole = self.is_whole_row[rows]
        left = np.where(is_whole, kept[kind], 1.0)
        for layer in reversed(self.gaps.layers[1:]):
            by_age[self.gaps.parent[layer]] += by_age[layer] * left[layer.start - rows.start : layer.stop - rows.start]
        return np.bincount(kind, weights=by_age[rows] * (gained + age[parent] * is_whole), minlength=len(kept))

    def _smooth(self, width: np.ndarray, whole: np.ndarray, variance: float) -> _Smooth:
        """Return the mean of Π sinhc(zΔ/2) over the factor of each cluster that has failures between looks."""
        if not len(width):
            return _Smooth(*[np.zeros(0)] * 5)
        failures, whole = self.failures[self.between_cluster], whole[self.between_cluster]
        middle = (1 + variance * failures) / (1 + variance * whole)
        # The slope of the smooth factor at the middle goes into the gamma, so that the nodes lie where the mass is.
        shift = np.add.reduceat(log_sinhc(middle[self.stretch_of] * width / 2)[1] * width / 2, self.stretch)
        rate = 1 + variance * (whole - shift)
        centre, sd = (1 + variance * failures) / rate, np.sqrt(variance / (1 + variance * failures))
        y = sd * NODE[:, None]
        log_mass = np.log(NODE_WEIGHT)[:, None] - _beyond_square(y, np.maximum(sd, 1e-9), NODE[:, None])
        z = centre * np.exp(y)
        products = Products(z, width / 2, self.stretch, self.stretch_of)
        log_ratio = products.log - shift * z
        mass, base = _normalised(log_mass)
        posterior, top = _normalised(log_mass + log_ratio)
        # log z − z, but for constants, without losing the digits of a small variance
        bend = np.log(centre) + y - z
        moved = ((posterior - mass) * (bend - (np.log(centre) - centre))).sum(axis=0)
        return _Smooth(
            top - base,
            shift,
            (posterior * z).sum(axis=0),
            products.slopes(posterior) / 2,
            -moved / max(variance, 1e-150) ** 2,
        )


class _Smooth(NamedTuple):
    """By cluster with failures between looks: log mean, the hazard moved, posterior mean of z, slope in θ; by failure: pull."""

    value: np.ndarray
    shift: np.ndarray
    factor: np.ndarray
    pull: np.ndarray
    by_variance: np.ndarray


def _pooled(hazard: np.ndarray, variance: float) -> tuple[np.ndarray, np.ndarray]:
    """Return log(1 + θH)/θ and its slope in θ, also for θ = 0."""
    x = variance * hazard
    is_small, safe = x < 1e-4, max(variance, 1e-300)
    value = np.where(is_small, hazard * (1 - x / 2 + x**2 / 3 - x**3 / 4), np.log1p(x) / safe)
    slope = np.where(is_small, hazard**2 * (-0.5 + x * 2 / 3 - x**2 * 3 / 4), (hazard / (1 + x) - value) / safe)
    return value, slope


def _beyond_square(y: np.ndarray, sd: np.ndarray, node: np.ndarray) -> np.ndarray:
    """Return (eʸ − 1 − y)/sd² − node²/2 with y = sd·node: how the log of a gamma variable differs from a normal one."""
    exact = (np.expm1(y) - y) / sd**2 - node**2 / 2
    return np.where(sd < 1e-4, y * node**2 / 6, exact)


def _normalised(log_mass: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    top = log_mass.max(axis=0)
    mass = np.exp(log_mass - top)
    total = mass.sum(axis=0)
    return mass / total, top + np.log(total)
