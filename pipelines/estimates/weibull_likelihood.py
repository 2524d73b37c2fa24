"""The Weibull log-likelihood of many groups of counted spells at once, with its slopes.

With x the log of the time over the group's longest, the cumulative hazard is H = exp(c + βx): c is its log at that
longest time, β the shape. Then the likelihood separates. Everything ever at risk enters only through
Σ w·exp(βx), with w > 0 for each end and w < 0 for each late entry; failures at a known time add
log β + c + βx; failures between two visits add log(1 − exp(−(H_upper − H_lower))), one term for each pair.
Without late entry the sum is concave in (c, β) (Burridge 1981, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pipelines.estimates.counts import tally
from pipelines.estimates.life_likelihood import Intervals, Segments, Surface, exact_sums
from pipelines.estimates.weibull_exposure import Exposure, Tabulated, hazard_of

#: So that the logarithm of a chance exists at such a point.
SMALLEST_HAZARD = 1e-140


@dataclass(frozen=True)
class WeibullCounts:
    """What the likelihood needs of each group. `log_longest` undoes the scaling of time.

    exact: failures at a known time; exact_x, exact_xx: the sums of their x and x²; exact_log: of their log times.
    """

    log_longest: np.ndarray
    exposure: Exposure | Tabulated
    intervals: Intervals
    exact: np.ndarray
    exact_x: np.ndarray
    exact_xx: np.ndarray
    exact_log: np.ndarray
    has_entry: np.ndarray

    @property
    def group_count(self) -> int:
        return len(self.log_longest)

    @classmethod
    def of(
        cls,
        code: np.ndarray,
        lower: np.ndarray,
        upper: np.ndarray,
        count: np.ndarray,
        entry_code: np.ndarray,
        entry: np.ndarray,
        entry_count: np.ndarray,
        *,
        group_count: int,
    ) -> WeibullCounts:
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
        return cls(
            longest,
            Exposure(point_log - longest[point_code], everything.sums[0][is_used], Segments(point_code, group_count)),
            Intervals.of(code[is_between], lower[is_between], upper[is_between], count[is_between], log_longest=longest),
            *exact_sums(code[is_exact], np.log(lower[is_exact]), count[is_exact], log_longest=longest),
            np.bincount(entry_code[late], minlength=group_count) > 0,
        )

    def only(self, groups: np.ndarray) -> WeibullCounts:
        """Return the counts of some groups, renumbered in the order given (which is sorted)."""
        place = np.full(self.group_count, -1)
        place[groups] = np.arange(len(groups))
        return WeibullCounts(
            self.log_longest[groups],
            self.exposure.only(place, group_count=len(groups)),
            self.intervals.only(place, group_count=len(groups)),
            *(getattr(self, name)[groups] for name in ("exact", "exact_x", "exact_xx", "exact_log", "has_entry")),
        )

    def without_entries(self) -> WeibullCounts:
        """Return the counts as if everyone had been watched from the start."""
        is_end = self.exposure.weight > 0
        segments = Segments(self.exposure.segments.code[is_end], self.group_count)
        return replace(self, exposure=Exposure(self.exposure.x[is_end], self.exposure.weight[is_end], segments))

    def start(self, factor: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return a start: the shape from the spread of the log failure times, then c from the number of failures."""
        between, segments = self.intervals, self.intervals.segments
        failures = self.exact + segments.sum(between.count)
        mean = (self.exact_x + segments.sum(between.count * between.middle_x)) / failures
        square = (self.exact_xx + segments.sum(between.count * between.middle_x**2)) / failures
        # 1.28 = π/√6 is the spread of a log Weibull time of shape 1 (Gumbel distribution).
        shape = np.clip(1.28 / np.sqrt(np.maximum(square - mean**2, 1e-4)), 0.2, 20.0) * factor
        hazard = self.exposure.total(shape) + segments.sum(between.count * np.exp(shape[segments.code] * between.middle_x))
        return np.log(failures / np.maximum(hazard, 1e-300)), np.log(shape)

    def quick(self, middle: np.ndarray, half_width: np.ndarray) -> tuple[WeibullCounts, np.ndarray]:
        """Return the counts with a table in place of the exposure, and in which groups the table is sound."""
        table = Tabulated(self.exposure, middle, half_width)
        return replace(self, exposure=table), table.is_sound

    def surface(self, c: np.ndarray, shape: np.ndarray) -> Surface:
        """Return the log-likelihood and its slopes at (c, shape), arrays of (groups, columns).

        The constant −Σ log t of the exact failures is left out.
        """
        moments = self.exposure.moments(c, shape)
        exact, exact_x = self.exact[:, None], self.exact_x[:, None]
        terms = [
            exact * (np.log(shape) + c) + shape * exact_x - moments.zeroth,
            exact - moments.zeroth,
            exact / shape + exact_x - moments.first,
            -moments.zeroth,
            -moments.first,
            -exact / shape**2 - moments.second,
        ]
        if len(self.intervals.count):
            for column in range(c.shape[1]):
                for term, extra in zip(terms, _between(self.intervals, c[:, column], shape[:, column]), strict=True):
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
