"""Where the posterior of shares of lots peaks for given standard deviations, and how wide it is there.

Lots lie within sellers, so the effects of lots and sellers are eliminated by hand, which leaves one system in the conditions
and families: the cost grows with the lines, not with their cube. Arrays have one column for each node of the grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: SDs of the priors on the logit: of the level that all lots share (nearly even over the shares), and of the stated conditions.
LEVEL_SD, CONDITION_SD = 1.8, 1.0
SMALL_STEP = 1e-6
STEPS_AT_MOST = 40
LEANING_STEPS = 2
NODES, PARTS = np.polynomial.hermite_e.hermegauss(7)
PARTS = PARTS / PARTS.sum()


class Lines:
    """k of n of each line, one family of one lot; the numbers of its condition, family, lot and seller, from 0.

    A seller of one lot cannot be told from that lot: it has no place among the sellers (−1), and its lot varies as both do.
    """

    def __init__(self, k, n, condition, family, lot, seller_of_lot, *, conditions: int, families: int) -> None:
        from scipy.sparse import csr_array

        self.k, self.n, self.lot = k, n, lot
        self.seller_of_lot = seller_of_lot
        self.conditions, self.families = conditions, families
        self.lots, self.sellers = len(seller_of_lot), int(seller_of_lot.max(initial=-1)) + 1
        self.width = 1 + conditions + families
        count, at = len(k), np.arange(len(k))
        self.columns = np.column_stack([np.zeros(count, dtype=np.int64), 1 + condition, 1 + conditions + family])
        ones = np.ones(3 * count)
        self.design = csr_array((ones, (np.repeat(at, 3), self.columns.ravel())), shape=(count, self.width))
        self.dense = self.design.toarray()
        self.by_lot = csr_array((np.ones(count), (lot, at)), shape=(self.lots, count))
        seller = seller_of_lot[lot]
        has = np.flatnonzero(seller >= 0)
        self.by_seller = csr_array((np.ones(len(has)), (seller[has], has)), shape=(self.sellers, count))
        cell = (seller[has, None] * self.width + self.columns[has]).ravel()
        self._pulls = csr_array((np.ones(len(cell)), (cell, np.repeat(has, 3))), shape=(self.sellers * self.width, count))
        # Every line with itself and with the other lines of its lot: these are what the curvature joins.
        size = np.bincount(lot, minlength=self.lots)
        order, start = np.argsort(lot, kind="stable"), np.cumsum(size) - size
        each = size[lot]
        self.first = np.repeat(at, each)
        within = np.arange(each.sum()) - np.repeat(np.cumsum(each) - each, each)
        self.second = order[np.repeat(start[lot], each) + within]
        crossed = self.columns[self.first][:, :, None] * self.width + self.columns[self.second][:, None, :]
        pairs = np.repeat(np.arange(len(self.first)), 9)
        self._joins = csr_array((np.ones(len(pairs)), (crossed.ravel(), pairs)), shape=(self.width**2, len(self.first)))
        self.is_same = (self.first == self.second)[:, None]

    def pulled(self, values: np.ndarray) -> np.ndarray:
        """Return (nodes, sellers, width): sums of the lines' values by seller and effect."""
        return (self._pulls @ values).T.reshape(values.shape[1], self.sellers, self.width)

    def joined(self, values: np.ndarray) -> np.ndarray:
        """Return (nodes, width, width): sums of the values of pairs by the effects that they join."""
        return (self._joins @ values).T.reshape(-1, self.width, self.width)


@dataclass(frozen=True)
class Spread:
    """Standard deviations on the logit at each node: between families, sellers, and lots of one seller."""

    family_sd: np.ndarray
    seller_sd: np.ndarray
    lot_sd: np.ndarray

    def only(self, nodes: np.ndarray) -> Spread:
        return Spread(self.family_sd[nodes], self.seller_sd[nodes], self.lot_sd[nodes])

    def lot_variance(self, lines: Lines) -> np.ndarray:
        """Return the variance of each lot's effect, (lots, nodes)."""
        return self.lot_sd**2 + (lines.seller_of_lot < 0)[:, None] * self.seller_sd**2

    def precision(self, lines: Lines) -> np.ndarray:
        """Return the prior precision of level, conditions and families, (width, nodes)."""
        families = np.broadcast_to(self.family_sd**-2.0, (lines.families, len(self.family_sd)))
        fixed = np.repeat([LEVEL_SD**-2, CONDITION_SD**-2], [1, lines.conditions])[:, None]
        return np.concatenate([np.broadcast_to(fixed, (len(fixed), families.shape[1])), families])


@dataclass(frozen=True)
class System:
    """The curvature of the log posterior: what eliminated lots and sellers leave. One row of `matrix` and `pull` a node.

    matrix: (nodes, width, width); pull: how level, conditions and families pull on a seller, (nodes, sellers, width);
    weight: n p (1 − p) of each line; damping: variance of a lot's effect, the others given; seller: likewise, no lot given.
    """

    matrix: np.ndarray
    pull: np.ndarray
    weight: np.ndarray
    damping: np.ndarray
    seller: np.ndarray


@dataclass(frozen=True)
class Modes:
    """By node: log evidence, the effects (level, conditions, families; then sellers; then lots) and the system there."""

    log_evidence: np.ndarray
    effects: np.ndarray
    system: System

    def only(self, nodes: np.ndarray) -> Modes:
        """Return the modes at some nodes."""
        one = self.system
        system = System(one.matrix[nodes], one.pull[nodes], one.weight[:, nodes], one.damping[:, nodes], one.seller[:, nodes])
        return Modes(self.log_evidence[nodes], self.effects[:, nodes], system)


def modes(lines: Lines, spread: Spread, start: np.ndarray) -> Modes:
    """Climb to the mode at each node by Newton's steps from `start`, halved where the posterior would fall."""
    here = np.repeat(start[:, None], len(spread.lot_sd), axis=1)
    value, scale = _value(lines, here, spread), np.ones(len(spread.lot_sd))
    for _ in range(STEPS_AT_MOST):
        target, system = _newton(lines, here, spread)
        if abs(target - here).max(initial=0) < SMALL_STEP:
            break
        there = here + scale * (target - here)
        new = _value(lines, there, spread)
        is_up = new >= value - 1e-10 * np.maximum(abs(value), 1)
        here, value = np.where(is_up, there, here), np.where(is_up, new, value)
        scale = np.where(is_up, np.minimum(2 * scale, 1), scale / 2)
    variance = spread.lot_variance(lines)
    kept = lines.by_lot @ system.weight
    volume = (
        np.log1p(variance * kept).sum(axis=0)
        + np.log(spread.seller_sd**2 / system.seller).sum(axis=0)
        + np.linalg.slogdet(system.matrix)[1]
        - np.log(spread.precision(lines)).sum(axis=0)
    )
    return Modes(value - volume / 2, here, system)


def leaned(lines: Lines, spread: Spread, found: Modes) -> Modes:
    """Move from modes to means.

    With few units the posterior leans. The nearest normal distribution has the expected slope 0 and the expected
    curvature, so Newton's steps lead to it, with p averaged over the spread of the logit.
    """
    here, system = found.effects, found.system
    for _ in range(LEANING_STEPS):
        here, system = _newton(lines, here, spread, _logit_sd(lines, system))
    return Modes(found.log_evidence, here, system)


def parts(lines: Lines, effects: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Split effects into those of level, conditions and families, of sellers, and of lots."""
    theta, seller, lot = np.split(effects, [lines.width, lines.width + lines.sellers])
    return theta, seller, lot


def _logit(lines: Lines, effects: np.ndarray) -> np.ndarray:
    theta, seller, lot = parts(lines, effects)
    return lines.design @ theta + lines.by_seller.T @ seller + lot[lines.lot]


def _value(lines: Lines, effects: np.ndarray, spread: Spread) -> np.ndarray:
    theta, seller, lot = parts(lines, effects)
    logit = _logit(lines, effects)
    fit = (lines.k[:, None] * logit - lines.n[:, None] * np.logaddexp(0, logit)).sum(axis=0)
    away = (theta**2 * spread.precision(lines)).sum(axis=0) + (seller**2).sum(axis=0) / spread.seller_sd**2
    return fit - (away + (lot**2 / spread.lot_variance(lines)).sum(axis=0)) / 2


def _newton(lines: Lines, effects: np.ndarray, spread: Spread, logit_sd: np.ndarray | None = None) -> tuple[np.ndarray, System]:
    """Return where Newton's full step leads, and the system there; logit_sd: of each line, over which p is averaged."""
    logit = _logit(lines, effects)
    p, each = np.zeros(logit.shape), np.zeros(logit.shape)
    for node, part in [(0.0, 1.0)] if logit_sd is None else zip(NODES, PARTS, strict=True):
        there = 1 / (1 + np.exp(-(logit if logit_sd is None else logit + node * logit_sd)))
        p += part * there
        each += part * there * (1 - there)
    weight = lines.n[:, None] * each
    kept = 1 / (1 + spread.lot_variance(lines) * (lines.by_lot @ weight))
    damping = spread.lot_variance(lines) * kept
    pull = weight * logit + lines.k[:, None] - lines.n[:, None] * p
    effective = weight * kept[lines.lot]
    rest = pull - weight * (damping * (lines.by_lot @ pull))[lines.lot]
    seller = spread.seller_sd**2 / (1 + spread.seller_sd**2 * (lines.by_seller @ effective))
    pulls = lines.pulled(effective)
    within = weight[lines.first] * (lines.is_same - (damping[lines.lot] * weight)[lines.second])
    matrix = lines.joined(within) - pulls.transpose(0, 2, 1) @ (pulls * seller.T[:, :, None])
    at = np.arange(lines.width)
    matrix[:, at, at] += spread.precision(lines).T
    by_seller = seller * (lines.by_seller @ rest)
    right = (lines.design.T @ rest).T - (pulls.transpose(0, 2, 1) @ by_seller.T[:, :, None])[:, :, 0]
    theta = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    s = by_seller - seller * (pulls @ theta[:, :, None])[:, :, 0].T
    line = lines.design @ theta.T + lines.by_seller.T @ s
    w = damping * (lines.by_lot @ (pull - weight * line))
    return np.concatenate([theta.T, s, w]), System(matrix, pulls, weight, damping, seller)


def lot_pull(lines: Lines, system: System, node: int) -> np.ndarray:
    """Return how level, conditions and families pull on each lot at one node, (lots, width)."""
    return lines.by_lot @ (lines.dense * system.weight[:, [node]])


def lot_pulls(lines: Lines, system: System, lots: np.ndarray) -> np.ndarray:
    """Return the same of some lots at all nodes, (nodes, lots, width)."""
    at = np.flatnonzero(np.isin(lines.lot, lots))
    order = np.argsort(lots)
    row = order[np.searchsorted(lots[order], lines.lot[at])]
    found = np.zeros((len(lots), system.weight.shape[1], lines.width))
    np.add.at(found, row, system.weight[at][:, :, None] * lines.dense[at][:, None, :])
    return found.transpose(1, 0, 2)


def lot_luck(lines: Lines, spread: Spread, found: Modes, covariance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and variance of each lot's luck in standard deviations between lots of one seller, (lots, nodes).

    covariance: of level, conditions and families by node.
    """
    system, seller = found.system, lines.seller_of_lot
    _, _, mean = parts(lines, found.effects)
    leaning = system.damping * (lines.by_lot @ system.weight)
    variance = system.damping.copy()
    for node in range(variance.shape[1]):
        lean = system.damping[:, [node]] * lot_pull(lines, system, node)
        if lines.sellers:
            own = np.where(seller >= 0, system.seller[seller, node], 0.0)
            lean -= (leaning[:, node] * own)[:, None] * system.pull[node, seller]
            variance[:, node] += leaning[:, node] ** 2 * own
        variance[:, node] += ((lean @ covariance[node]) * lean).sum(axis=1)
    # Of what a seller's only lot differs by, a part is the lot's.
    of_seller = np.where(seller[:, None] >= 0, 0.0, spread.seller_sd**2)
    part = spread.lot_sd**2 / (spread.lot_sd**2 + of_seller)
    return part * mean / spread.lot_sd, (part**2 * variance + part * of_seller) / spread.lot_sd**2


def _logit_sd(lines: Lines, system: System) -> np.ndarray:
    """Return the SD of each line's logit, (lines, nodes)."""
    lot, seller = lines.lot, lines.seller_of_lot[lines.lot]
    kept = 1 - system.damping * (lines.by_lot @ system.weight)
    found = np.empty(system.weight.shape)
    for node in range(found.shape[1]):
        lean = lines.dense - (system.damping[:, [node]] * lot_pull(lines, system, node))[lot]
        own = system.damping[lot, node]
        if lines.sellers:
            variance = np.where(seller >= 0, system.seller[seller, node], 0.0)
            lean -= (kept[lot, node] * variance)[:, None] * system.pull[node, seller]
            own = own + kept[lot, node] ** 2 * variance
        found[:, node] = np.sqrt((lean @ np.linalg.inv(system.matrix[node]) * lean).sum(axis=1) + own)
    return found
