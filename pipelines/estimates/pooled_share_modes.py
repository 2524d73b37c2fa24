"""Where the posterior of the pooled shares peaks for given standard deviations, and how wide it is there.

Given α and u the effects w of single cells are independent, and given α so are the effects u of families. Both are
eliminated by hand, which leaves one small system in the methods: the cost grows with the cells, not with their cube.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: SD of the prior of α on the logit; 1.8 is nearly even over the shares.
METHOD_SD = 1.8
SMALL_STEP = 1e-8
STEPS_AT_MOST = 60
LEANING_STEPS = 6
NODES, PARTS = np.polynomial.hermite_e.hermegauss(7)
PARTS = PARTS / PARTS.sum()


class Cells:
    """k of n of each cell, sorted by family, no cell twice; the numbers of its family and method, from 0."""

    def __init__(self, k: np.ndarray, n: np.ndarray, family: np.ndarray, method: np.ndarray) -> None:
        self.k, self.n, self.family, self.method = k, n, family, method
        self._starts = np.flatnonzero(np.append(True, np.diff(family) > 0))
        self.is_method = np.eye(method.max() + 1)[method]

    @property
    def family_count(self) -> int:
        return len(self._starts)

    @property
    def method_count(self) -> int:
        return self.is_method.shape[1]

    def by_family(self, values: np.ndarray) -> np.ndarray:
        return np.add.reduceat(values, self._starts, axis=1)

    def by_method(self, values: np.ndarray) -> np.ndarray:
        return values @ self.is_method

    def crossed(self, values: np.ndarray) -> np.ndarray:
        """Return (nodes, families, methods), 0 where there is no such cell."""
        table = np.zeros((len(values), self.family_count, self.method_count))
        table[:, self.family, self.method] = values
        return table


@dataclass(frozen=True)
class System:
    """The curvature of the log posterior at some effects: one row a node.

    damping: 1 / (1 + σ_w² W) of each cell; stiffness: of each family; crossed: as `Cells.crossed`; schur: of the methods.
    """

    damping: np.ndarray
    stiffness: np.ndarray
    crossed: np.ndarray
    schur: np.ndarray


@dataclass(frozen=True)
class Modes:
    """By node: the log evidence, and mean and SD of the logit of each cell, (nodes, cells); with what draws need."""

    log_evidence: np.ndarray
    logit: np.ndarray
    logit_sd: np.ndarray
    cell_sd: np.ndarray
    system: System
    cells: Cells

    def only(self, nodes: np.ndarray) -> Modes:
        """Return the modes at some nodes."""
        system = System(*(one[nodes] for one in vars(self.system).values()))
        return Modes(*(one[nodes] for one in (self.log_evidence, self.logit, self.logit_sd, self.cell_sd)), system, self.cells)

    def drawn(self, nodes: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Return one draw of all logits for each node named, (draws, cells)."""
        system, cells = self.system, self.cells
        root = np.linalg.cholesky(np.linalg.inv(system.schur))[nodes]
        alpha = (root @ rng.standard_normal((len(nodes), root.shape[1], 1)))[:, :, 0]
        stiffness = system.stiffness[nodes]
        u = rng.standard_normal(stiffness.shape) / np.sqrt(stiffness)
        for method in range(alpha.shape[1]):
            u -= system.crossed[nodes, :, method] / stiffness * alpha[:, [method]]
        damping = system.damping[nodes]
        w = rng.standard_normal(damping.shape) * np.sqrt(damping) * self.cell_sd[nodes][:, None]
        return self.logit[nodes] + damping * (alpha[:, cells.method] + u[:, cells.family]) + w


def modes(cells: Cells, family_sd: np.ndarray, cell_sd: np.ndarray) -> Modes:
    """Climb to the mode at each node (σ_u, σ_w) by Newton's steps, halved where the posterior would fall."""
    nodes = len(family_sd)
    # α, u and w side by side in one table, so that one step moves them together.
    here = np.zeros((nodes, cells.method_count + cells.family_count + len(cells.k)))
    value = _value(cells, here, family_sd, cell_sd)
    scale = np.ones(nodes)
    for _ in range(STEPS_AT_MOST):
        target, system, weight = _newton(cells, here, family_sd, cell_sd)
        if abs(target - here).max() < SMALL_STEP:
            break
        there = here + scale[:, None] * (target - here)
        new = _value(cells, there, family_sd, cell_sd)
        is_up = new >= value - 1e-10 * np.maximum(abs(value), 1)
        here, value = np.where(is_up[:, None], there, here), np.where(is_up, new, value)
        scale = np.where(is_up, np.minimum(2 * scale, 1), scale / 2)
    family_weight = cells.by_family(weight * system.damping)
    volume = (
        np.log1p(cell_sd[:, None] ** 2 * weight).sum(axis=1)
        + np.log1p(family_sd[:, None] ** 2 * family_weight).sum(axis=1)
        + np.linalg.slogdet(system.schur)[1]
    )
    evidence = value - volume / 2
    sd = _logit_sd(cells, system, cell_sd)
    # A mode is not a mean: with few attempts the posterior leans. The nearest normal distribution has the expected
    # slope 0 and the expected curvature, so the same steps lead to it, with p averaged over the logit's spread.
    for _ in range(LEANING_STEPS):
        here, system, _ = _newton(cells, here, family_sd, cell_sd, sd)
        sd = _logit_sd(cells, system, cell_sd)
    return Modes(evidence, _logit(cells, here), sd, cell_sd, system, cells)


def _parts(cells: Cells, effects: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    alpha, u, w = np.split(effects, [cells.method_count, cells.method_count + cells.family_count], axis=1)
    return alpha, u, w


def _logit(cells: Cells, effects: np.ndarray) -> np.ndarray:
    alpha, u, w = _parts(cells, effects)
    return alpha[:, cells.method] + u[:, cells.family] + w


def _value(cells: Cells, effects: np.ndarray, family_sd: np.ndarray, cell_sd: np.ndarray) -> np.ndarray:
    alpha, u, w = _parts(cells, effects)
    logit = _logit(cells, effects)
    fit = (cells.k * logit - cells.n * np.logaddexp(0, logit)).sum(axis=1)
    spread = (u**2).sum(axis=1) / family_sd**2 + (w**2).sum(axis=1) / cell_sd**2 + (alpha**2).sum(axis=1) / METHOD_SD**2
    return fit - spread / 2


def _newton(
    cells: Cells, effects: np.ndarray, family_sd: np.ndarray, cell_sd: np.ndarray, logit_sd: np.ndarray | None = None
) -> tuple[np.ndarray, System, np.ndarray]:
    """Return where Newton's full step leads, the system there, and the weight W = n p (1 − p) of each cell.

    logit_sd: with it, p and p (1 − p) are averaged over a logit spread so far.
    """
    logit = _logit(cells, effects)
    p, each = np.zeros(logit.shape), np.zeros(logit.shape)
    for node, part in [(0.0, 1.0)] if logit_sd is None else zip(NODES, PARTS, strict=True):
        there = 1 / (1 + np.exp(-logit if logit_sd is None else -(logit + node * logit_sd)))
        p += part * there
        each += part * there * (1 - there)
    weight = cells.n * each
    damping = 1 / (1 + cell_sd[:, None] ** 2 * weight)
    pull, effective = (weight * logit + cells.k - cells.n * p) * damping, weight * damping
    stiffness = cells.by_family(effective) + 1 / family_sd[:, None] ** 2
    crossed = cells.crossed(effective)
    leverage = crossed / stiffness[:, :, None]
    eye = np.eye(cells.method_count)
    schur = (cells.by_method(effective) + 1 / METHOD_SD**2)[:, :, None] * eye - crossed.transpose(0, 2, 1) @ leverage
    family_pull = cells.by_family(pull)
    right = cells.by_method(pull) - (leverage * family_pull[:, :, None]).sum(axis=1)
    alpha = np.linalg.solve(schur, right[:, :, None])[:, :, 0]
    u = family_pull / stiffness - (leverage @ alpha[:, :, None])[:, :, 0]
    w = cell_sd[:, None] ** 2 * (pull - effective * (alpha[:, cells.method] + u[:, cells.family]))
    return np.concatenate([alpha, u, w], axis=1), System(damping, stiffness, crossed, schur), weight


def _logit_sd(cells: Cells, system: System, cell_sd: np.ndarray) -> np.ndarray:
    """Return the SD of α + u + w of each cell."""
    lean = cells.is_method - (system.crossed / system.stiffness[:, :, None])[:, cells.family]
    line = ((lean @ np.linalg.inv(system.schur)) * lean).sum(axis=2) + 1 / system.stiffness[:, cells.family]
    return np.sqrt(system.damping**2 * line + cell_sd[:, None] ** 2 * system.damping)
