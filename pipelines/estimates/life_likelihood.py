"""What the likelihoods of lives have in common: log time x on a straight line, y = c + βx, with a law of y.

x is the log of the time over the group's longest, β > 0 the steepness of the line, c the height at the longest time. For
Weibull lives y is the log cumulative hazard and β the shape; for lognormal lives y is the normal quantile of the share
failed and β one over the standard deviation of log life. In both the log-likelihood without late entry is concave in
(c, β) (Burridge 1981, from memory), so one climb and one search for limits serve both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from pipelines.estimates.life_merging import merged


class Segments:
    """Consecutive stretches of rows, one for each group; a group may have none."""

    def __init__(self, code: np.ndarray, count: int) -> None:
        self.code, self.count = code, count
        rows = np.bincount(code, minlength=count)
        self._filled = np.flatnonzero(rows)
        self._starts = (np.cumsum(rows) - rows)[self._filled]

    def sum(self, values: np.ndarray) -> np.ndarray:
        """Return the sum of the values of each group, 0 for a group without rows."""
        sums = np.add.reduceat(values, self._starts) if len(self._filled) else np.zeros(0)
        if len(self._filled) == self.count:
            return sums
        everyone = np.zeros(self.count)
        everyone[self._filled] = sums
        return everyone


@dataclass(frozen=True)
class Intervals:
    """Failures found between two visits: log times of both bounds, and how many."""

    lower_x: np.ndarray
    upper_x: np.ndarray
    width_x: np.ndarray
    is_from_zero: np.ndarray
    count: np.ndarray
    segments: Segments

    @classmethod
    def of(
        cls, code: np.ndarray, lower: np.ndarray, upper: np.ndarray, count: np.ndarray, *, log_longest: np.ndarray
    ) -> Intervals:
        """Return the failures sorted by group, very many merged; times in the clock's unit, 0 <= lower < upper < inf."""
        order = np.argsort(code, kind="stable")
        code, lower, upper, count = code[order], lower[order], upper[order], count[order]
        is_from_zero = lower == 0
        positive = np.where(is_from_zero, upper, lower)
        half = np.log1p((upper - positive) / positive) / 2
        middle = np.log(upper) - log_longest[code] - half
        code, middle, half, count = merged(code, middle, half, count, size=len(log_longest))
        return cls(middle - half, middle + half, 2 * half, half == 0, count, Segments(code, len(log_longest)))

    def only(self, place: np.ndarray, *, group_count: int) -> Intervals:
        """Return those of the groups whose place is not -1, renumbered by it."""
        code = place[self.segments.code]
        mine = code >= 0
        return Intervals(
            *(getattr(self, name)[mine] for name in ("lower_x", "upper_x", "width_x", "is_from_zero", "count")),
            Segments(code[mine], group_count),
        )

    @property
    def middle_x(self) -> np.ndarray:
        """Return the log time of the midpoint of each interval."""
        return self.upper_x + np.log((1 + np.exp(-self.width_x) * ~self.is_from_zero) / 2)


class Surface(NamedTuple):
    """The log-likelihood and its slopes in c and b = log β, by group and column."""

    value: np.ndarray
    c: np.ndarray
    b: np.ndarray
    cc: np.ndarray
    cb: np.ndarray
    bb: np.ndarray


class Likelihood(Protocol):
    """The likelihood of many groups at once; `log_longest` undoes the scaling of time.

    exact_log: the sum of the log times of the exact failures, the constant that the surface leaves out.
    """

    log_longest: np.ndarray
    exact_log: np.ndarray
    has_entry: np.ndarray
    intervals: Intervals

    @property
    def group_count(self) -> int: ...

    def surface(self, c: np.ndarray, shape: np.ndarray) -> Surface:
        """Return the log-likelihood and its slopes at (c, β), arrays of (groups, columns)."""

    def only(self, groups: np.ndarray) -> Likelihood:
        """Return some groups, renumbered in the order given (which is sorted)."""

    def without_entries(self) -> Likelihood:
        """Return the likelihood that takes every late entry for one from the start."""

    def quick(self, middle: np.ndarray, half_width: np.ndarray) -> tuple[Likelihood, np.ndarray]:
        """Return a quicker stand-in and in which groups it is as good: there while log β is that near the middle."""

    def start(self, factor: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return c and log β from which to climb; β of each group times the factor."""


def exact_sums(
    code: np.ndarray, log_time: np.ndarray, count: np.ndarray, *, log_longest: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return by group how many failures at a known time there are, and the sums of their x, x² and log times."""
    x = log_time - log_longest[code]
    size = len(log_longest)
    # Without any row bincount gives whole numbers.
    one, first, second, log = (np.bincount(code, weights=count * of, minlength=size) * 1.0 for of in (1.0, x, x**2, log_time))
    return one, first, second, log
