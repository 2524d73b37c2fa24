"""Everything ever at risk of a Weibull failure: the sums of H = exp(c + βx), point by point or from a table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipelines.estimates.life_likelihood import Segments

#: exp() of more than this only occurs at a trial point that the likelihood then rejects.
LARGEST_EXPONENT = 150.0


def hazard_of(log_hazard: np.ndarray) -> np.ndarray:
    """Return exp(), growing slowly past the largest exponent, so that H(end) > H(entry) still holds out there."""
    beyond = log_hazard - LARGEST_EXPONENT
    if not beyond.max(initial=0.0) > 0:
        return np.exp(log_hazard)
    return np.exp(np.minimum(log_hazard, LARGEST_EXPONENT)) * (1 + np.maximum(beyond, 0))


class Moments(NamedTuple):
    """Σ w·H, Σ w·x·H, Σ w·x²·H with H = exp(c + βx), each by group and column."""

    zeroth: np.ndarray
    first: np.ndarray
    second: np.ndarray


@dataclass(frozen=True)
class Exposure:
    """Ends (w > 0) and late entries (w < 0) by log time, summed point by point."""

    x: np.ndarray
    weight: np.ndarray
    segments: Segments

    def total(self, shape: np.ndarray) -> np.ndarray:
        """Return Σ w·exp(βx) of each group for one shape each."""
        return self.segments.sum(self.weight * np.exp(shape[self.segments.code] * self.x))

    def moments(self, c: np.ndarray, shape: np.ndarray) -> Moments:
        code = self.segments.code
        found = np.empty((3, *shape.shape))
        for column in range(shape.shape[1]):
            term = shape[:, column][code] * self.x
            term += c[:, column][code]
            term = hazard_of(term)
            term *= self.weight
            for power in range(3):
                found[power, :, column] = self.segments.sum(term)
                term *= self.x
        return Moments(*found)

    def only(self, place: np.ndarray, *, group_count: int) -> Exposure:
        """Return the points of the groups whose place is not -1, renumbered by it."""
        code = place[self.segments.code]
        mine = code >= 0
        return Exposure(self.x[mine], self.weight[mine], Segments(code[mine], group_count))


class Tabulated:
    """The exposure's moments from ten sums: log M is a polynomial in log shape over a narrow enough range.

    The eight limits of a group would need some forty sums, the band of a curve several hundred. `is_sound` tells in which
    groups the polynomial is exact to about twelve digits: narrow ranges, that is many failures.
    Chebyshev interpolation: Trefethen, Approximation Theory and Approximation Practice (from memory).
    """

    POINTS = 10

    def __init__(self, exposure: Exposure, middle: np.ndarray, half_width: np.ndarray) -> None:
        angle = (np.arange(self.POINTS) + 0.5) * np.pi / self.POINTS
        self._order = np.arange(self.POINTS)
        self._middle, self._half_width = middle[:, None], half_width[:, None]
        sums = np.column_stack([exposure.total(np.exp(middle + half_width * np.cos(one))) for one in angle])
        is_positive = (sums > 0).all(axis=1)
        sums[~is_positive] = 1.0
        weights = np.where(self._order == 0, 1, 2)[:, None] * np.cos(np.outer(self._order, angle)) / self.POINTS
        self._value = np.log(sums) @ weights.T
        self._slope = np.polynomial.chebyshev.chebder(self._value, axis=1) / self._half_width
        self._bend = np.polynomial.chebyshev.chebder(self._slope, axis=1) / self._half_width
        self.is_sound = is_positive & (abs(self._value[:, -2:]).max(axis=1) < 1e-12)

    def moments(self, c: np.ndarray, shape: np.ndarray) -> Moments:
        y = np.clip((np.log(shape) - self._middle) / self._half_width, -1, 1)
        waves = np.cos(self._order * np.arccos(y)[:, :, None])
        value, slope, bend = (
            np.einsum("gsk,gk->gs", waves[:, :, : table.shape[1]], table) for table in (self._value, self._slope, self._bend)
        )
        total = hazard_of(c + value)
        return Moments(total, total * slope / shape, total * (slope**2 + bend - slope) / shape**2)
