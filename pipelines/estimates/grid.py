"""Even grids over what is not known, laid again where the weight lies."""

from __future__ import annotations

import numpy as np

#: Nodes with less than this share of the top's weight are left out: e^−12 is 6 in a million.
DEPTH = 12.0


def narrowed(nodes: np.ndarray, log_weight: np.ndarray, *, count: int) -> np.ndarray:
    """Return `count` even nodes over the part of the grid that carries weight, and one step of the old grid around it.

    nodes: ascending; log_weight: of each node, up to a constant. The new grid never reaches beyond the old one.
    """
    heavy = np.flatnonzero(log_weight > log_weight.max() - DEPTH)
    return np.linspace(nodes[max(heavy[0] - 1, 0)], nodes[min(heavy[-1] + 1, len(nodes) - 1)], count)


def margin(log_weight: np.ndarray, axis: int) -> np.ndarray:
    """Return the log of the weight summed over every other axis."""
    others = tuple(one for one in range(log_weight.ndim) if one != axis)
    top = log_weight.max()
    return top + np.log(np.maximum(np.exp(log_weight - top).sum(axis=others), 1e-300))


def shares(log_weight: np.ndarray) -> np.ndarray:
    """Return the weights as shares of their sum."""
    weight = np.exp(log_weight - log_weight.max())
    return weight / weight.sum()


def drawn_nodes(weight: np.ndarray, count: int) -> np.ndarray:
    """Return the node of each of `count` draws: each node as often as its share says, to within one (systematic draws)."""
    return np.minimum(np.searchsorted(np.cumsum(weight), (np.arange(count) + 0.5) / count), len(weight) - 1)
