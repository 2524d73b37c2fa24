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
        # of draws with many ties, sorting rows takes half as long as a partition
        return np.sort(np.ascontiguousarray(np.moveaxis(values, 0, -1)), axis=-1)[..., place]
    order = np.argsort(values, axis=0, kind="stable")
    below = np.cumsum(weights[order], axis=0) - weights[order]
    is_in = (below <= share * weights.sum() * (1 + 1e-12)) & (weights[order] > 0)
    place = len(values) - 1 - np.argmax(is_in[::-1], axis=0)
    return np.take_along_axis(values, np.take_along_axis(order, place[None], axis=0), axis=0)[0]
