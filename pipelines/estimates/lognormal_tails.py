"""Whom a lognormal life is known of on one side only: point by point, or thinned to a few points that stand for all."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from pipelines.estimates.life_likelihood import Segments

#: Cells of the thinned tails: their width in y at the steepest line, and nodes in each.
WIDTH, NODES = 0.5, 8


@dataclass(frozen=True)
class Tails:
    """One-sided knowledge by log time: log Φ(−y) where `side` is 1 (still well), log Φ(y) where it is −1 (found bad)."""

    x: np.ndarray
    weight: np.ndarray
    side: np.ndarray
    segments: Segments

    def sums(self, c: np.ndarray, shape: np.ndarray) -> list[np.ndarray]:
        """Return the sums over log Φ(∓y) and their slopes in c and β."""
        from scipy.special import erfcx, log_ndtr

        seg, x = self.segments, self.x
        q = -self.side * (c[seg.code] + shape[seg.code] * x)
        # The ratio φ(q)/Φ(q): erfcx keeps its digits where both are tiny.
        pull = sqrt(2 / pi) / erfcx(-q / sqrt(2))
        by_y = -self.side * self.weight * pull
        by_yy = -self.weight * pull * np.maximum(q + pull, 0.0)
        return [
            seg.sum(self.weight * log_ndtr(q)),
            seg.sum(by_y),
            seg.sum(by_y * x),
            seg.sum(by_yy),
            seg.sum(by_yy * x),
            seg.sum(by_yy * x**2),
        ]

    def only(self, mine: np.ndarray, place: np.ndarray, *, group_count: int) -> Tails:
        """Return the points marked as mine, their groups renumbered by `place`."""
        code = place[self.segments.code[mine]]
        return Tails(self.x[mine], self.weight[mine], self.side[mine], Segments(code, group_count))

    def thinned(self, steepest: np.ndarray) -> Tails:
        """Return a few points that stand for all, to about eleven digits while β is at most `steepest` of its group.

        log Φ is smooth: within half a unit of y a polynomial through eight Chebyshev nodes is as good, so each cell of
        that width needs its weights at the nodes only.
        Chebyshev interpolation: Trefethen, Approximation Theory and Approximation Practice (from memory).
        """
        is_well = self.side > 0
        code, width = self.segments.code[is_well], WIDTH / steepest[self.segments.code[is_well]]
        position = self.x[is_well] / width
        whole = np.floor(position)
        order = np.lexsort((whole, code))
        is_first = np.append(True, (np.diff(code[order]) > 0) | (np.diff(whole[order]) > 0))[: len(code)]
        starts = np.flatnonzero(is_first)
        powers = np.arange(NODES)
        waves = np.cos(np.outer(np.arccos(np.clip(2 * (position - whole)[order] - 1, -1, 1)), powers))
        sums = np.add.reduceat(self.weight[is_well][order, None] * waves, starts) if len(starts) else waves
        angle = (powers + 0.5) * np.pi / NODES
        weight = sums @ (np.where(powers == 0, 1, 2)[:, None] * np.cos(np.outer(powers, angle)) / NODES)
        x = (whole[order][starts, None] + (1 + np.cos(angle)) / 2) * width[order][starts, None]
        found_code = np.concatenate([np.repeat(code[order][starts], NODES), self.segments.code[~is_well]])
        by_group = np.argsort(found_code, kind="stable")
        return Tails(
            np.concatenate([x.ravel(), self.x[~is_well]])[by_group],
            np.concatenate([weight.ravel(), self.weight[~is_well]])[by_group],
            np.repeat([1.0, -1.0], [x.size, (~is_well).sum()])[by_group],
            Segments(found_code[by_group], self.segments.count),
        )
