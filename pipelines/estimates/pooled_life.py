"""Lives of families that borrow from each other: one Weibull shape, rates that differ by family, few or no failures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.common_shape import CommonShape, common_shape
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.grid import shares
from pipelines.estimates.lives import LifeSpells, checked
from pipelines.estimates.pooled_life_grid import FamilyCounts, LifePosterior, life_posterior
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: −log of the share still free of failure.
B10, MEDIAN = -np.log(0.9), np.log(2.0)
#: A limit further than this many times from the estimate is none.
FARTHEST = 1e12


@dataclass(frozen=True)
class PooledLife:
    """One family: b10 and median in the clock's unit, posterior medians with limits.

    is_borrowed: the family was never seen, so all is borrowed. With failures = 0 the lower limits rest on how long its own
    sticks held, the upper ones on the other families.
    """

    by: tuple
    spells: int
    failures: int
    b10: Estimate
    median: Estimate
    is_borrowed: bool = False


@dataclass(frozen=True)
class PooledLives:
    """The families in sorted order, a family never seen, and the shape they share; or `because`, and no numbers.

    common: whether one shape for all is plausible. Where it says not, prefer the separate fits.
    """

    because: Because | None
    shape: Estimate
    families: list[PooledLife]
    unseen: PooledLife
    common: CommonShape
    _posterior: LifePosterior | None

    def draws(self, count: int = 4000) -> tuple[np.ndarray, np.ndarray]:
        """Return draws of the shape, (count,), and of the scales, (count, families + 1) in the clock's unit, unseen last.

        The same in every call. Without a posterior both have no rows. The longer scale is the longer b10 and median.
        """
        if self._posterior is None:
            return np.empty(0), np.empty((0, len(self.families) + 1))
        return self._posterior.draws(count)


def pooled_life(
    spells: pd.DataFrame,
    *,
    by: Sequence[str],
    level: float = 0.95,
    min_failures: int = 6,
    entries: pd.DataFrame | None = None,
) -> PooledLives:
    """Estimate b10 and median of each family, with one Weibull shape for all and rates drawn from one distribution.

    spells, by, entries: as in `weibull`; failures between two visits are taken to second order in what may fail between
    them (see `FamilyCounts.of`). min_failures: of all families together.
    Without numbers `because` and every estimate say `no_spells`, `no_failures`, `too_few_failures` or `fit_failed` (the data
    fix no shape).
    Raises InputError.
    Method: gamma-Poisson empirical model of Gaver & O'Muircheartaigh (1987), Technometrics 29:1–15, with exposure Σ t^β, all
    three hyperparameters integrated on a grid (from memory); nothing is plugged in.
    """
    normal_quantile(level)
    checked_spells = checked(spells, by=by, entries=entries)
    groups = checked_spells.groups
    sizes, failures = checked_spells.per_group(checked_spells.count).tolist(), checked_spells.failures.tolist()
    found = _posterior_or_reason(checked_spells, min_failures=min_failures)
    common = common_shape(checked_spells, min_failures=min_failures)
    names = [*groups.tuples(), ()]
    if isinstance(found, Because):
        refused = Estimate.refused(found)
        lives, shape, posterior, because = [(refused, refused)] * len(names), refused, None, found
    else:
        lives, shape, posterior, because = _lives(found, level=level), _shape(found, level=level), found, None
    described = [
        PooledLife(*one, *pair, is_borrowed=not one[1])
        for one, pair in zip(zip(names, [*sizes, 0], [*failures, 0], strict=True), lives, strict=True)
    ]
    return PooledLives(because, shape, described[:-1], described[-1], common, posterior)


def _posterior_or_reason(spells: LifeSpells, *, min_failures: int) -> LifePosterior | Because:
    failures = int(spells.failures.sum())
    if not len(spells.count):
        return Because.NO_SPELLS
    if failures < max(min_failures, 1):
        return Because.TOO_FEW_FAILURES if failures else Because.NO_FAILURES
    return life_posterior(FamilyCounts.of(spells)) or Because.FIT_FAILED


def _lives(posterior: LifePosterior, *, level: float) -> list[tuple[Estimate, Estimate]]:
    """Return b10 and median of each family."""
    tail = (1 - level) / 2
    columns = [_life_quantiles(posterior, hazard, np.array([tail, 0.5, 1 - tail])) for hazard in (B10, MEDIAN)]
    return [tuple(_estimate(*column[:, one]) for column in columns) for one in range(posterior.gamma_shape.shape[1])]


def _estimate(low: float, log_estimate: float, high: float) -> Estimate:
    limits = [one if abs(one - log_estimate) < np.log(FARTHEST) else None for one in (low, high)]
    return Estimate.within(float(np.exp(log_estimate)), *(None if one is None else float(np.exp(one)) for one in limits))


def _life_quantiles(posterior: LifePosterior, hazard: float, share: np.ndarray) -> np.ndarray:
    """Return the log of the posterior quantiles of the time at which the cumulative hazard is `hazard`, (shares, families).

    Newton's steps on the normal scale, on which the chance that a life is below exp(y) is nearly straight in y.
    """
    from scipy.special import digamma, gammaincc, gammaln, ndtri, polygamma

    a, log_rate, shape = posterior.gamma_shape, posterior.log_gamma_rate, posterior.shape[:, None]
    log_gamma = gammaln(a)
    each = (np.log(hazard) - digamma(a) + log_rate) / shape
    mean = posterior.weight @ each
    sd = np.sqrt(posterior.weight @ (polygamma(1, a) / shape**2 + (each - mean) ** 2))
    found = mean + ndtri(share)[:, None] * sd
    for y, target in zip(found, ndtri(share), strict=True):
        low, high = np.full(len(y), -np.inf), np.full(len(y), np.inf)
        left = np.arange(len(y))
        for _ in range(60):
            log_x = log_rate[:, left] + np.log(hazard) - shape * y[left]
            x = np.exp(np.minimum(log_x, 600))
            z = ndtri(np.clip(posterior.weight @ gammaincc(a[:, left], x), 1e-15, 1 - 1e-15))
            low[left], high[left] = np.where(z < target, y[left], low[left]), np.where(z > target, y[left], high[left])
            density = (posterior.weight * posterior.shape) @ np.exp(a[:, left] * log_x - x - log_gamma[:, left])
            slope = np.maximum(density * np.sqrt(2 * np.pi) * np.exp(np.minimum(z**2 / 2, 40)), 0.2 / sd[left])
            step = np.clip((target - z) / slope, -4 * sd[left], 4 * sd[left])
            is_outside = (y[left] + step <= low[left]) | (y[left] + step >= high[left])
            is_halved = is_outside & np.isfinite(low[left]) & np.isfinite(high[left])
            step[is_halved] = ((low + high) / 2 - y)[left][is_halved]
            y[left] += step
            # The steps are quadratic: after one this small the error is in the eighth digit.
            left = left[abs(step) > 1e-4 * sd[left]]
            if not len(left):
                break
    return found + posterior.log_unit


def _shape(posterior: LifePosterior, *, level: float) -> Estimate:
    """Return the shape from its margin, made fine by a spline through the log weights."""
    from scipy.interpolate import CubicSpline

    nodes = posterior.log_shape_nodes
    fine = np.linspace(nodes[0], nodes[-1], 2001)
    weight = shares(CubicSpline(nodes, posterior.log_shape_weight)(fine))
    below = np.cumsum(weight) - weight / 2
    low, middle, high = np.exp(np.interp([(1 - level) / 2, 0.5, (1 + level) / 2], below, fine))
    return Estimate(float(middle), float(low), float(high))
