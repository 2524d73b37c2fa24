"""The Weibull log-likelihood of many groups of counted spells at once, with its slopes.

With x the log of the time over the group's longest, the cumulative hazard is H = exp(c + βx): c is its log at that
longest time, β the shape. Then the likelihood separates. Everything ever at risk enters only through
Σ w·exp(βx), with w > 0 for each end and w < 0 for each late entry; failures at a known time add
log β + c + βx; failures between two visits add log(1 − exp(−(H_upper − H_lower))), one term for each pair.
Without late entry the sum is concave in (c, β) (Burridge 1981, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from pipelines.estimates.counts import tally

#: exp() of more than this only occurs at a trial point that the likelihood then rejects.
LARGEST_EXPONENT = 150.0
#: So that the logarithm of a chance exists at such a point.
SMALLEST_HAZARD = 1e-140


def hazard_of(log_hazard: np.ndarray) -> np.ndarray:
    """Return exp(), growing slowly past the largest exponent, so that H(end) > H(entry) still holds out there."""
    beyond = log_hazard - LARGEST_EXPONENT
    if not beyond.max(initial=0.0) > 0:
        return np.exp(log_hazard)
    return np.exp(np.minimum(log_hazard, LARGEST_EXPONENT)) * (1 + np.maximum(beyond, 0))


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


class Moments(NamedTuple):
    """Σ w·H, Σ w·x·H, Σ w·x²·H with H = exp(c + βx), each by group and column."""

    zeroth: np.ndarray
    first: np.ndarray
    second: np.ndarray


class AtRisk(Protocol):
    def moments(self, c: np.ndarray, shape: np.ndarray) -> Moments:
        """Return the moments at c and shapes of (groups, columns)."""


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


@dataclass(frozen=True)
class Intervals:
    """Failures found between two visits: log times of both bounds, and how many."""

    lower_x: np.ndarray
    upper_x: np.ndarray
    width_x: np.ndarray
    is_from_zero: np.ndarray
    count: np.ndarray
    segments: Segments


class Surface(NamedTuple):
    """The log-likelihood and its slopes in c and b = log β, by group and column."""

    value: np.ndarray
    c: np.ndarray
    b: np.ndarray
    cc: np.ndarray
    cb: np.ndarray
    bb: np.ndarray


@dataclass(frozen=True)
class Counts:
    """What the likelihood needs of each group. `log_longest` undoes the scaling of time.

    exact: failures at a known time; exact_x, exact_xx: the sums of their x and x²; exact_log: of their log times.
    """

    log_longest: np.ndarray
    exposure: Exposure
    intervals: Intervals
    exact: np.ndarray
    exact_x: np.ndarray
    exact_xx: np.ndarray
    exact_log: np.ndarray
    has_entry: np.ndarray

    @property
    def group_count(self) -> int:
        return len(self.log_longest)


def counted(
    code: np.ndarray,
    lower: np.ndarray,
    upper: np.ndarray,
    count: np.ndarray,
    entry_code: np.ndarray,
    entry: np.ndarray,
    entry_count: np.ndarray,
    *,
    group_count: int,
) -> Counts:
    """Reduce spells (one row each or counted, times in clock units) to what the likelihood needs."""
    late = entry > 0
    everything = tally(
        np.concatenate([code, entry_code[late]]),
        np.concatenate([lower, entry[late]]),
        [np.concatenate([count, -entry_count[late]])],
    )
    is_used = (everything.value > 0) & (everything.sums[0] != 0)
    point_code, point_log = everything.code[is_used], np.log(everything.value[is_used])
    is_between = (upper > lower) & (upper < np.inf)
    longest = np.full(group_count, -np.inf)
    np.maximum.at(longest, code[is_between], np.log(upper[is_between]))
    # Sorted by group and time, so the last point of each group is its longest.
    last = np.flatnonzero(np.append(np.diff(point_code) > 0, [True] * bool(len(point_code))))
    longest[point_code[last]] = np.maximum(longest[point_code[last]], point_log[last])
    is_exact = lower == upper
    exact_code, exact_count, exact_time = code[is_exact], count[is_exact], np.log(lower[is_exact])
    exact_x = exact_time - longest[exact_code]
    return Counts(
        longest,
        Exposure(point_log - longest[point_code], everything.sums[0][is_used], Segments(point_code, group_count)),
        _intervals(code[is_between], lower[is_between], upper[is_between], count[is_between], longest),
        *(
            np.bincount(exact_code, weights=exact_count * of, minlength=group_count)
            for of in (1.0, exact_x, exact_x**2, exact_time)
        ),
        np.bincount(entry_code[late], minlength=group_count) > 0,
    )


def _intervals(code, lower, upper, count, longest) -> Intervals:
    order = np.argsort(code, kind="stable")
    code, lower, upper, count = code[order], lower[order], upper[order], count[order]
    is_from_zero = lower == 0
    positive = np.where(is_from_zero, upper, lower)
    width_x = np.log1p((upper - positive) / positive)
    upper_x = np.log(upper) - longest[code]
    return Intervals(upper_x - width_x, upper_x, width_x, is_from_zero, count, Segments(code, len(longest)))


def only(counts: Counts, groups: np.ndarray) -> Counts:
    """Return the counts of some groups, renumbered in the order given (which is sorted)."""
    place = np.full(counts.group_count, -1)
    place[groups] = np.arange(len(groups))
    points, between = counts.exposure, counts.intervals
    point, pair = place[points.segments.code], place[between.segments.code]
    in_points, in_pairs = point >= 0, pair >= 0
    return Counts(
        counts.log_longest[groups],
        Exposure(points.x[in_points], points.weight[in_points], Segments(point[in_points], len(groups))),
        Intervals(
            *(getattr(between, name)[in_pairs] for name in ("lower_x", "upper_x", "width_x", "is_from_zero", "count")),
            Segments(pair[in_pairs], len(groups)),
        ),
        *(getattr(counts, name)[groups] for name in ("exact", "exact_x", "exact_xx", "exact_log", "has_entry")),
    )


def surface(counts: Counts, c: np.ndarray, shape: np.ndarray, *, at_risk: AtRisk | None = None) -> Surface:
    """Return the log-likelihood and its slopes at (c, shape), arrays of (groups, columns).

    at_risk: a faster stand-in for the exposure. The constant −Σ log t of the exact failures is left out.
    """
    moments = (at_risk or counts.exposure).moments(c, shape)
    exact, exact_x = counts.exact[:, None], counts.exact_x[:, None]
    terms = [
        exact * (np.log(shape) + c) + shape * exact_x - moments.zeroth,
        exact - moments.zeroth,
        exact / shape + exact_x - moments.first,
        -moments.zeroth,
        -moments.first,
        -exact / shape**2 - moments.second,
    ]
    if len(counts.intervals.count):
        for column in range(c.shape[1]):
            for term, extra in zip(terms, _between(counts.intervals, c[:, column], shape[:, column]), strict=True):
                term[:, column] += extra
    value, by_c, by_shape, cc, c_shape, shape_shape = terms
    return Surface(value, by_c, shape * by_shape, cc, shape * c_shape, shape**2 * shape_shape + shape * by_shape)


def _between(intervals: Intervals, c: np.ndarray, shape: np.ndarray) -> list[np.ndarray]:
    """Return the sums over log(1 − exp(−A)), A = H_upper − H_lower, and their slopes in c and the shape."""
    seg = intervals.segments
    c, shape = c[seg.code], shape[seg.code]
    ratio = shape * intervals.width_x
    upper_hazard = hazard_of(c + shape * intervals.upper_x)
    # A narrow interval would lose its digits in H_upper − H_lower.
    part = np.where(intervals.is_from_zero, 1.0, -np.expm1(-ratio))
    between = np.maximum(upper_hazard * part, SMALLEST_HAZARD)
    lower_hazard = hazard_of(c + shape * intervals.lower_x)
    lower_hazard = np.where(intervals.is_from_zero, 0.0, lower_hazard)
    gone = -np.expm1(-between)
    pull = np.exp(-between) / gone
    bend = -pull / gone
    by_shape = between * intervals.upper_x + lower_hazard * intervals.width_x
    by_shape_twice = by_shape * intervals.upper_x + lower_hazard * intervals.width_x * intervals.lower_x
    n = intervals.count
    return [
        seg.sum(n * np.log(gone)),
        seg.sum(n * pull * between),
        seg.sum(n * pull * by_shape),
        seg.sum(n * (pull * between + bend * between**2)),
        seg.sum(n * (pull * by_shape + bend * between * by_shape)),
        seg.sum(n * (pull * by_shape_twice + bend * by_shape**2)),
    ]
