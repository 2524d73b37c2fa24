"""How many faults units would have later, judged by what they had before: each shrunk towards the mean of its fleet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns

#: Half-normal prior of the coefficient of variation between units, and the nodes of its grid.
VARIATION_SD = 1.0
VARIATIONS = np.linspace(0.02, 2.5, 40)
#: Steps of the climb to the mean rate; it is concave in the logarithm.
_STEPS = 30


@dataclass(frozen=True)
class Expected:
    """Faults expected of groups of units, over the nodes of how much units differ; arrays are (nodes, groups).

    weight: of each node; faults: expected; variance: of the true rates behind them; slope: of the logarithm of `faults` against
    that of the fleet's mean rate; mean_variance: of the latter, by node; spread: of the counts seen later, over what they should
    vary by, at least 1, by group.
    """

    weight: np.ndarray
    faults: np.ndarray
    variance: np.ndarray
    slope: np.ndarray
    mean_variance: np.ndarray
    spread: np.ndarray

    def log(self, group: int, against: int | None = None) -> tuple[float, float]:
        """Return mean and variance of the logarithm of what is expected of a group, or of its ratio to another."""
        middle, slope = np.log(self.faults[:, group]), self.slope[:, group]
        own = self.spread[group] * self.variance[:, group] / self.faults[:, group] ** 2
        if against is not None:
            middle, slope = middle - np.log(self.faults[:, against]), slope - self.slope[:, against]
            own = own + self.spread[against] * self.variance[:, against] / self.faults[:, against] ** 2
        mean = float(self.weight @ middle)
        return mean, float(self.weight @ (own + slope**2 * self.mean_variance + (middle - mean) ** 2))


def expected_after(groups: Sequence[pd.DataFrame]) -> Expected | None:
    """Return the faults expected of each group after, from what all of them had before; None where nobody had any.

    groups: one row a unit: before_faults, before_exposure, after_faults, after_exposure, exposures over 0. They are one fleet;
    which unit is in which group may depend on before_faults, but on nothing else that goes with faults.
    Raises InputError.   Method: rates ~ Gamma, counts ~ Poisson, so that a unit with n faults in h has the mean
    (α + n) / (α / μ + h); the mean rate μ by maximum likelihood, the variation between units over a grid under a half-normal
    prior.
    Source: the empirical Bayes before-after study of Hauer (1997, from memory).
    """
    from scipy.special import gammaln

    for one in groups:
        _require(one)
    whole = pd.concat(groups, ignore_index=True)
    n, h, later = (whole[name].to_numpy(dtype=float) for name in ("before_faults", "before_exposure", "after_exposure"))
    if not n.sum():
        return None
    alpha = VARIATIONS[:, None] ** -2.0
    log_mean = np.full((len(alpha), 1), np.log(n.sum() / h.sum()))
    for _ in range(_STEPS):
        due = np.exp(log_mean) * h
        score = (alpha * (n - due) / (alpha + due)).sum(axis=1, keepdims=True)
        curvature = ((alpha + n) * alpha * due / (alpha + due) ** 2).sum(axis=1, keepdims=True)
        step = np.clip(score / curvature, -1.0, 1.0)
        log_mean = log_mean + step
        if np.abs(step).max() < 1e-10:
            break
    mean = np.exp(log_mean)
    due = mean * h
    told = (gammaln(alpha + n) - gammaln(alpha) + alpha * np.log(alpha) + n * log_mean - (alpha + n) * np.log(alpha + due)).sum(
        axis=1
    )
    weight = told - (VARIATIONS / VARIATION_SD) ** 2 / 2
    weight = np.exp(weight - weight.max())
    shape, rate = alpha + n, alpha / mean + h
    expected, variance = later * shape / rate, later**2 * shape / rate**2
    # a higher mean rate lifts what is expected of a unit by the share that its own past does not tell
    lifted = expected * (alpha / mean) / rate
    bounds = np.cumsum([0, *map(len, groups)])[:-1]
    sums = [np.add.reduceat(one, bounds, axis=1) for one in (expected, variance, lifted)]
    weight = weight / weight.sum()
    seen = whole["after_faults"].to_numpy(dtype=float)
    spread = _spreads(seen, weight @ expected, weight @ variance, bounds)
    return Expected(weight, sums[0], sums[1], sums[2] / sums[0], 1 / curvature[:, 0], spread)


def _spreads(seen: np.ndarray, expected: np.ndarray, variance: np.ndarray, bounds: np.ndarray) -> np.ndarray:
    count = np.diff(np.append(bounds, len(seen)))
    total = np.maximum(np.add.reduceat(seen, bounds), 1.0)
    factor = np.repeat(total / np.add.reduceat(expected, bounds), count)
    left = np.add.reduceat((seen - factor * expected) ** 2, bounds)
    due = np.add.reduceat(factor * expected + factor**2 * variance, bounds)
    return np.maximum(left / due * count / np.maximum(count - 1, 1), 1.0)


def _require(units: pd.DataFrame) -> None:
    names = ["before_faults", "before_exposure", "after_faults", "after_exposure"]
    require_columns(units, names)
    require(np.array([len(units) > 0]), "A group holds no unit", "Leave such groups out.")
    for name in names:
        values = units[name].to_numpy(dtype=float)
        is_fine = np.isfinite(values) & ((values >= 0) if name.endswith("faults") else (values > 0))
        require(is_fine, f"`{name}` holds a missing or impossible number", "Keep units that were watched on both sides.")
