"""Draws with weights: what a test of part of a lot leaves of the draws made before it."""

from __future__ import annotations

import numpy as np


def mean(values: np.ndarray, *, weights: np.ndarray | None = None) -> np.ndarray:
    """Return the mean over the first axis; weights: one a draw, None for equal ones."""
    return values.mean(axis=0) if weights is None else np.tensordot(weights / weights.sum(), values, axes=1)


def quantile(values: np.ndarray, share: float, *, weights: np.ndarray | None = None) -> np.ndarray:
    """Return over the first axis the largest value with at most `share` (0–1) of the weight below it."""
    if weights is None:
        place = min(int(np.floor(share * len(values) * (1 + 1e-12))), len(values) - 1)
        return np.partition(values, place, axis=0)[place]
    order = np.argsort(values, axis=0, kind="stable")
    below = np.cumsum(weights[order], axis=0) - weights[order]
    place = (below <= share * weights.sum() * (1 + 1e-12)).sum(axis=0) - 1
    return np.take_along_axis(values, np.take_along_axis(order, place[None], axis=0), axis=0)[0]
