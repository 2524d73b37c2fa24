"""By how much the faults of a place may differ from those expected by luck: chance, and which controllers it happens to have."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.matched_counts import mid_p
from pipelines.estimates.unit_factors import SPREADS, UnitFactors

#: A variance of nothing, for places of which nothing is told.
TINY = 1e-300
#: A node of less weight for every place adds nothing that shows.
LEAST_WEIGHT = 1e-7


class Luck:
    """by place: free, the variance by chance alone, once the sums that the expectation was fitted to are kept to; variance, with
    how much controllers differ; own_variance, what the latter adds where nothing is fitted; units, its controllers.

    of, unit, due, failures, levels: place, controller, faults expected and seen, and the levels of `expected_faults`, by row.
    A controller's faults are negative binomial around those expected, so it counts as one, at however many places it was;
    places that share controllers share their luck. How much controllers differ is told by those of the other places where
    these are the more, and not taken for known.   Source: Breslow (1984), Applied Statistics 33:38–44 (from memory).
    """

    def __init__(self, of: np.ndarray, unit: np.ndarray, due: np.ndarray, failures: np.ndarray, levels: np.ndarray) -> None:
        count, units, width = int(of.max()) + 1, int(unit.max()) + 1, int(levels.max()) + 1
        pair, pair_of = np.unique(of.astype(np.int64) * units + unit, return_inverse=True)
        at, who = np.divmod(pair, units)
        pair_due = np.bincount(pair_of, due, len(pair))
        self.units = np.bincount(at, minlength=count)
        self._due = np.bincount(of, due, count)
        by_place, by_unit = (
            sum(_table(row, column, due, rows, width) for column in levels.T) for row, rows in ((of, count), (unit, units))
        )
        inner = sum(_table(one, other, due, width, width) for one in levels.T for other in levels.T)
        fitted = np.linalg.pinv(inner, rcond=1e-10, hermitian=True) @ by_place.T
        self.free = np.maximum(self._due - np.einsum("pk,kp->p", by_place, fitted), 0.0)
        cross = np.bincount(at, pair_due * np.einsum("rk,kr->r", by_unit[who], fitted[:, at]), count)
        own = np.bincount(at, pair_due**2, count)
        self._shared = np.maximum(own - 2 * cross + np.einsum("kp,kl,lp->p", fitted, by_unit.T @ by_unit, fitted), 0.0)
        factors = UnitFactors(np.bincount(unit, failures, units), np.bincount(unit, due, units))
        theta = _before_fitting(factors.expected, int(np.linalg.matrix_rank(inner, hermitian=True)))
        weight = self._weight(factors, at, who, count)
        is_told = weight.max(axis=1) > LEAST_WEIGHT
        self._theta, self._weights = theta[is_told], weight[is_told] / weight[is_told].sum(axis=0)
        self.variance = np.maximum(self.free + (self._theta @ self._weights) * self._shared, TINY)
        self.own_variance = (self._theta @ self._weights) * own
        self.spread = float(np.sqrt(theta @ factors.weight(factors.log_likelihood.sum(axis=1)[:, None])[:, 0]))

    def more_by_chance(self, which: np.ndarray, seen: np.ndarray) -> np.ndarray:
        """Return the mid-p value of so many faults at some places, averaged over how much controllers may differ."""
        variance = np.maximum(self.free[which] + self._theta[:, None] * self._shared[which], TINY)
        return (self._weights[:, which] * mid_p(seen, self._due[which], variance)).sum(axis=0)

    def _weight(self, factors: UnitFactors, at: np.ndarray, who: np.ndarray, count: int) -> np.ndarray:
        """Return (nodes, places): how likely each variance between controllers is."""
        each = factors.log_likelihood
        own = np.stack([np.bincount(at, row[who], count) for row in each])
        return factors.weight(each.sum(axis=1)[:, None] - np.where(self.units <= each.shape[1] / 2, own, 0.0))


def _before_fitting(due: np.ndarray, spent: int) -> np.ndarray:
    """Return the variances between controllers at the nodes, as they were before `spent` rates were fitted to them.

    Their residuals have 1 − spent/controllers of the variance, of chance and of factors, that they had.
    """
    lost = min(spent / max(int((due > 0).sum()), 1), 0.5)
    return (SPREADS**2 + lost * due.sum() / max((due**2).sum(), TINY)) / (1 - lost)


def _table(row: np.ndarray, column: np.ndarray, weight: np.ndarray, rows: int, columns: int) -> np.ndarray:
    return np.bincount(row * columns + column, weight, rows * columns).reshape(rows, columns)
