"""Shares of many cells that borrow from each other: logit-normal partial pooling over families, method by method.

logit p = α_method + u_family + w_cell, with u ~ N(0, σ_u²) and w ~ N(0, σ_w²). How much is borrowed the log decides: σ_u
and σ_w are integrated on a grid, never fixed at their best values, because limits that take them as known are too narrow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require, require_columns
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.grid import drawn_nodes, margin, narrowed, shares
from pipelines.estimates.normal_mixture import quantile
from pipelines.estimates.pooled_share_modes import Cells, Modes, modes
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: Half-normal priors of the two standard deviations on the logit: between families, and of single cells around theirs.
FAMILY_SD, CELL_SD = 0.8, 0.4
#: The grids of log SD: below e^−3.5 = 0.03 nothing differs any more, above four prior SDs nothing is believed.
LEAST_LOG_SD = -3.5
GRID = 7
#: The same seed in every call: equal counts give equal draws.
SEED = 20_260_101


@dataclass(frozen=True)
class PooledCell:
    """One method and family. k of n as counted; share: posterior median with limits; mean_share: posterior mean.

    is_borrowed: never tried, so the share is what the others tell. Where nothing tells it (a method that nobody tried)
    `share` says `no_attempts` and mean_share is None.
    """

    method: object
    family: object
    k: float
    n: float
    share: Estimate
    mean_share: float | None
    is_borrowed: bool


@dataclass(frozen=True)
class PooledShares:
    """All cells, sorted by method, then family; `draws` of their shares come from the same posterior as the limits."""

    cells: list[PooledCell]
    _weight: np.ndarray
    _modes: Modes | None
    _order: np.ndarray

    def draws(self, count: int = 4000) -> np.ndarray:
        """Return draws of the shares, (count, cells), columns in the order of `cells`; the same in every call.

        A cell without a share has draws of its prior: leave it out of what is compared.
        """
        if self._modes is None:
            return np.empty((count, 0))
        nodes = drawn_nodes(self._weight, count)
        logit = self._modes.drawn(nodes, np.random.default_rng(SEED))
        return _expit(logit[:, self._order])


def pooled_share(cells: pd.DataFrame, *, level: float = 0.95) -> PooledShares:
    """Estimate the share of each method and family, each borrowing from the family's other methods and other families.

    cells: counts per `method` (nulls allowed: a method of its own), `family`, `k` passed of `n`; fractions are allowed for
    an effective number. Rows of one cell are added up. n = 0 asks for a cell never tried.
    Returns one cell per method and family named in `cells`. No rows give no cells.
    Raises InputError unless 0 <= k <= n.
    Method: Laplace approximation at each node of a grid over (σ_u, σ_w) with half-normal priors of 0.8 and 0.4, moved from
    mode to mean by the nearest normal distribution; α ~ N(0, 1.8²), nearly even over the shares.
    Source: Gelman et al. (2013), Bayesian Data Analysis, chapter 5; Rue, Martino & Chopin (2009), J. R. Statist. Soc. B
    71:319–392 (both from memory).
    """
    normal_quantile(level)
    require_columns(cells, ["method", "family", "k", "n"])
    k, n = cells["k"].to_numpy(dtype=float), cells["n"].to_numpy(dtype=float)
    require((k >= 0) & (k <= n) & np.isfinite(n), "`k` of `n` is not a share", "Count the successes among the attempts.")
    groups = group([cells], by=["family", "method"])
    if not groups.count:
        return PooledShares([], np.empty(0), None, np.empty(0, dtype=np.int64))
    k, n = (np.bincount(groups.codes[0], weights=one, minlength=groups.count) for one in (k, n))
    family, method = (group([groups.keys], by=[name]).codes[0] for name in ("family", "method"))
    weight, found = _posterior(Cells(k, n, family, method))
    estimates = _described(weight, found, level=level)
    is_told = np.bincount(method, weights=n)[method] > 0
    order = np.lexsort((family, method))
    keys = groups.keys
    pooled = []
    for one in order:
        share, mean = estimates[one] if is_told[one] else (Estimate.refused(Because.NO_ATTEMPTS), None)
        names = (keys["method"].iloc[one], keys["family"].iloc[one])
        pooled.append(PooledCell(*names, float(k[one]), float(n[one]), share, mean, bool(is_told[one] and n[one] == 0)))
    return PooledShares(pooled, weight, found, order)


def _posterior(cells: Cells) -> tuple[np.ndarray, Modes]:
    """Return the weight of each node of the grid, and the modes there; the grid is laid twice, the second time closer."""
    family_nodes, cell_nodes = (np.linspace(LEAST_LOG_SD, np.log(4 * one), GRID) for one in (FAMILY_SD, CELL_SD))
    for _ in range(2):
        family_sd, cell_sd = (np.exp(one).ravel() for one in np.meshgrid(family_nodes, cell_nodes, indexing="ij"))
        found = modes(cells, family_sd, cell_sd)
        # The grid is even in log SD, hence the two logarithms.
        prior = np.log(family_sd * cell_sd) - (family_sd / FAMILY_SD) ** 2 / 2 - (cell_sd / CELL_SD) ** 2 / 2
        log_weight = found.log_evidence + prior
        by_sd = log_weight.reshape(GRID, GRID)
        family_nodes = narrowed(family_nodes, margin(by_sd, 0), count=GRID)
        cell_nodes = narrowed(cell_nodes, margin(by_sd, 1), count=GRID)
    heavy = np.flatnonzero(log_weight > log_weight.max() - 9)
    return shares(log_weight[heavy]), found.only(heavy)


def _described(weight: np.ndarray, found: Modes, *, level: float) -> list[tuple[Estimate, float]]:
    """Return share and mean share of each cell from the mixture of normals of its logit."""
    tail = (1 - level) / 2
    low, median, high = (_expit(quantile(weight, found.logit, found.logit_sd, share)) for share in (tail, 0.5, 1 - tail))
    nodes, at = np.polynomial.hermite_e.hermegauss(15)
    mean = sum(
        part * (weight @ _expit(found.logit + node * found.logit_sd)) for node, part in zip(nodes, at / at.sum(), strict=True)
    )
    return [(Estimate(float(median[one]), float(low[one]), float(high[one])), float(mean[one])) for one in range(len(median))]


def _expit(logit: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-np.clip(logit, -700, 700)))
