"""The posterior of shares of lots that differ: standard deviations on a grid, and by node the modes and the luck of lots."""

from __future__ import annotations

from itertools import product

import numpy as np

from pipelines.estimates.crossed_share_modes import LEVEL_SD, Lines, Modes, Spread, leaned, lot_luck, modes
from pipelines.estimates.grid import shares

#: Half-normal priors of the standard deviations on the logit: between families, sellers, and lots of one seller.
FAMILY_SD, SELLER_SD, LOT_SD = 0.8, 0.5, 0.6
#: Under it nothing differs any more.
LEAST_SD = 0.02
#: Places of a grid in standard deviations of the posterior: coarse grids find it, a finer one is kept.
COARSE, FINE = (-1.5, 0.0, 1.5), (-2.5, -1.25, 0.0, 1.25, 2.5)
COARSE_GRIDS = 4
#: Corners of a grid beyond this radius carry no weight; nodes under this weight are left out.
RADIUS, LEAST_WEIGHT = 3.1, 1e-3


def posterior(lines: Lines | None):
    """Return weight, standard deviations, modes, and mean and covariance of level, conditions and families by node.

    The grid is even in x, each of which is a standard normal variable under the prior. Each grid is laid by the mean and
    the covariance that the one before it found.
    """
    middle, root = np.zeros(3), np.eye(3)
    start = None if lines is None else np.zeros(lines.width + lines.sellers + lines.lots)
    for number in range(COARSE_GRIDS + 1):
        places = COARSE if lines is not None and number < COARSE_GRIDS else FINE
        z = np.array([one for one in product(places, repeat=3) if np.hypot(*one[:2]) ** 2 + one[2] ** 2 <= RADIUS**2])
        x = middle + z @ root.T
        spread = Spread(*(_sd(x[:, one], scale) for one, scale in enumerate((FAMILY_SD, SELLER_SD, LOT_SD))))
        log_weight = -(x**2).sum(axis=1) / 2
        if lines is None:
            weight = shares(log_weight)
            return weight, spread, None, np.zeros((len(x), 1)), np.full((len(x), 1, 1), LEVEL_SD**2)
        found = modes(lines, spread, start)
        weight = shares(log_weight + found.log_evidence)
        start, middle = found.effects @ weight, weight @ x
        # A grid on which one node has all the weight tells no more than that its steps are too wide.
        root = np.linalg.cholesky((x - middle).T @ ((x - middle) * weight[:, None]) + 0.12 * root @ root.T)
    heavy = np.flatnonzero(weight > LEAST_WEIGHT)
    weight, spread = weight[heavy] / weight[heavy].sum(), spread.only(heavy)
    found = leaned(lines, spread, found.only(heavy))
    return weight, spread, found, found.effects[: lines.width].T, np.linalg.inv(found.system.matrix)


def luck(lines: Lines | None, weight: np.ndarray, spread: Spread, found: Modes | None, covariance: np.ndarray):
    """Return mean and variance of each lot's luck over all nodes."""
    if lines is None:
        return np.empty(0), np.empty(0)
    mean, variance = lot_luck(lines, spread, found, covariance)
    middle = mean @ weight
    return middle, (variance + mean**2) @ weight - middle**2


def _sd(x: np.ndarray, scale: float) -> np.ndarray:
    """Return the quantile of the half-normal distribution that a standard normal x is the quantile of."""
    from scipy.special import ndtr, ndtri

    return np.maximum(-scale * ndtri(ndtr(-np.minimum(x, 4)) / 2), LEAST_SD)
