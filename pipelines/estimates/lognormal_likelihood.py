"""The lognormal log-likelihood of many groups of counted spells at once, with its slopes.

With x the log of the time over the group's longest, y = c + βx is the normal quantile of the share failed: β is one over
the standard deviation of log life, −c/β its mean. Failures at a known time enter only through the sums of x and x²; who
was still well through log Φ(−y), a late entry through the same with a negative weight; who was found bad at the first
visit through log Φ(y); and a failure between two visits through log(Φ(y_upper) − Φ(y_lower)).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from math import log, pi

import numpy as np

from pipelines.estimates.counts import tally
from pipelines.estimates.life_likelihood import Intervals, Segments, Surface, exact_sums
from pipelines.estimates.lognormal_tails import Tails

LOG_ROOT_2PI = log(2 * pi) / 2
#: An interval this narrow (in y, times 1 + |y|) takes the series: the difference of two Φ would lose its digits.
NARROW = 3e-3
#: Log β beyond which a cell would be narrower than rounding; no limit is looked for there.
LARGEST_STEEPNESS = 20.0


@dataclass(frozen=True)
class LognormalCounts:
    """What the likelihood needs of each group. `log_longest` undoes the scaling of time.

    exact: failures at a known time; exact_x, exact_xx: the sums of their x, and of the squares about their mean;
    exact_log: of their log times; well: how many were still well at the end.
    """

    log_longest: np.ndarray
    tails: Tails
    intervals: Intervals
    exact: np.ndarray
    exact_x: np.ndarray
    exact_xx: np.ndarray
    exact_log: np.ndarray
    well: np.ndarray
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
    ) -> LognormalCounts:
        """Reduce spells (one row each or counted, times in clock units) to what the likelihood needs."""
        late, is_well, is_exact = entry > 0, (upper == np.inf) & (lower > 0), lower == upper
        is_first = (lower == 0) & (upper < np.inf)
        is_between = (lower > 0) & (lower < upper) & (upper < np.inf)
        longest = np.full(group_count, -np.inf)
        np.maximum.at(longest, code, np.log(np.where(upper < np.inf, upper, lower)))
        still = tally(
            np.concatenate([code[is_well], entry_code[late]]),
            np.concatenate([lower[is_well], entry[late]]),
            [np.concatenate([count[is_well], -entry_count[late]])],
        )
        tail_code = np.concatenate([still.code, code[is_first]])
        order = np.argsort(tail_code, kind="stable")
        time = np.concatenate([still.value, upper[is_first]])[order]
        weight = np.concatenate([still.sums[0], count[is_first]])[order]
        side = np.repeat([1.0, -1.0], [len(still.code), is_first.sum()])[order]
        tail_code = tail_code[order]
        exact_code, exact_time, exact_count = code[is_exact], np.log(lower[is_exact]), count[is_exact]
        exact, first, _, log_time = exact_sums(exact_code, exact_time, exact_count, log_longest=longest)
        # About the mean, since the likelihood takes differences of these squares.
        about = exact_time - longest[exact_code] - (first / np.maximum(exact, 1))[exact_code]
        return cls(
            longest,
            Tails(np.log(time) - longest[tail_code], weight, side, Segments(tail_code, group_count)),
            Intervals.of(code[is_between], lower[is_between], upper[is_between], count[is_between], log_longest=longest),
            exact,
            first,
            np.bincount(exact_code, weights=exact_count * about**2, minlength=group_count) * 1.0,
            log_time,
            np.bincount(code[is_well], weights=count[is_well], minlength=group_count) * 1.0,
            np.bincount(entry_code[late], minlength=group_count) > 0,
        )

    def only(self, groups: np.ndarray) -> LognormalCounts:
        """Return the counts of some groups, renumbered in the order given (which is sorted)."""
        place = np.full(self.group_count, -1)
        place[groups] = np.arange(len(groups))
        names = ("exact", "exact_x", "exact_xx", "exact_log", "well", "has_entry")
        return LognormalCounts(
            self.log_longest[groups],
            self.tails.only(place[self.tails.segments.code] >= 0, place, group_count=len(groups)),
            self.intervals.only(place, group_count=len(groups)),
            *(getattr(self, name)[groups] for name in names),
        )

    def without_entries(self) -> LognormalCounts:
        """Return the counts as if everyone had been watched from the start."""
        mine = self.tails.weight > 0
        return replace(self, tails=self.tails.only(mine, np.arange(self.group_count), group_count=self.group_count))

    def quick(self, middle: np.ndarray, half_width: np.ndarray) -> tuple[LognormalCounts, np.ndarray]:
        """Return the counts with thinned tails, where that leaves much fewer points; then all groups are sound."""
        thinned = self.tails.thinned(np.exp(np.minimum(middle + half_width, LARGEST_STEEPNESS)))
        is_worth_it = 2 * len(thinned.x) < len(self.tails.x)
        return replace(self, tails=thinned), np.full(self.group_count, is_worth_it)

    def start(self, factor: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return a start: the spread of the log failure times, half of the failures before their mean."""
        from scipy.special import ndtri

        between, segments, tails = self.intervals, self.intervals.segments, self.tails
        first = np.where(tails.side < 0, tails.weight, 0.0)
        sums = [self.exact, self.exact_x, self.exact_xx + self.exact_x**2 / np.maximum(self.exact, 1)]
        for power, total in enumerate(sums):
            total = total + segments.sum(between.count * between.middle_x**power)
            sums[power] = total + tails.segments.sum(first * (tails.x - log(2)) ** power)
        failures, mean, square = sums[0], sums[1] / sums[0], sums[2] / sums[0]
        shape = np.clip(1 / np.sqrt(np.maximum(square - mean**2, 1e-4)), 0.2, 20.0) * factor
        return ndtri(failures / (failures + self.well) / 2) - shape * mean, np.log(shape)

    def surface(self, c: np.ndarray, shape: np.ndarray) -> Surface:
        """Return the log-likelihood and its slopes at (c, β), arrays of (groups, columns).

        The constant −Σ log t of the exact failures is left out.
        """
        exact, first = self.exact[:, None], self.exact_x[:, None]
        about = self.exact_xx[:, None]
        mean = first / np.maximum(exact, 1)
        height = c + shape * mean
        raw = about + first * mean
        terms = [
            exact * (np.log(shape) - LOG_ROOT_2PI) - (exact * height**2 + shape**2 * about) / 2,
            -exact * height,
            exact / shape - first * height - shape * about,
            -np.broadcast_to(exact, c.shape).copy(),
            -np.broadcast_to(first, c.shape).copy(),
            -exact / shape**2 - raw,
        ]
        parts = [(self.tails.segments, self.tails.sums), (self.intervals.segments, partial(_between, self.intervals))]
        for segments, sums in parts:
            if len(segments.code):
                for column in range(c.shape[1]):
                    for term, extra in zip(terms, sums(c[:, column], shape[:, column]), strict=True):
                        term[:, column] += extra
        value, by_c, by_shape, cc, c_shape, shape_shape = terms
        return Surface(value, by_c, shape * by_shape, cc, shape * c_shape, shape**2 * shape_shape + shape * by_shape)


def _between(intervals: Intervals, c: np.ndarray, shape: np.ndarray) -> list[np.ndarray]:
    """Return the sums over log(Φ(y_upper) − Φ(y_lower)) and their slopes in c and β.

    In terms of the middle m and the half width h of each interval in y; m = c + β·middle, h = β·half.
    """
    seg, n = intervals.segments, intervals.count
    half = intervals.width_x / 2
    middle = intervals.upper_x - half
    m, h = c[seg.code] + shape[seg.code] * middle, shape[seg.code] * half
    parts = [np.where(h * (1 + abs(m)) < NARROW, *pair) for pair in zip(_narrow(m, h), _wide(m, h), strict=True)]
    # Slopes in m and in log h.
    value, by_m, by_h, by_mm, by_mh, by_hh = parts
    m_x, h_x = middle, 1 / shape[seg.code]
    # h = β·half, so a slope in β is the slope in log h over β; its second takes the curve of the log with it.
    return [
        seg.sum(n * value),
        seg.sum(n * by_m),
        seg.sum(n * (by_m * m_x + by_h * h_x)),
        seg.sum(n * by_mm),
        seg.sum(n * (by_mm * m_x + by_mh * h_x)),
        seg.sum(n * (by_mm * m_x**2 + 2 * by_mh * m_x * h_x + (by_hh - by_h) * h_x**2)),
    ]


def _narrow(m: np.ndarray, h: np.ndarray) -> list[np.ndarray]:
    """Return log of the chance between m − h and m + h and its slopes in m and log h, by a series in h."""
    bend = h**2 / 3
    return [
        np.log(2 * h) - m**2 / 2 - LOG_ROOT_2PI + bend * (m**2 - 1) / 2,
        -m + bend * m,
        1 + bend * (m**2 - 1),
        -1 + bend,
        2 * bend * m,
        2 * bend * (m**2 - 1),
    ]


def _wide(m: np.ndarray, h: np.ndarray) -> list[np.ndarray]:
    """Return the same from Φ itself, looked at from the side on which it is small."""
    from scipy.special import log_ndtr

    turn = np.where(m > 0, -1.0, 1.0)
    low, high = turn * m - h, turn * m + h
    log_high, log_low = log_ndtr(high), log_ndtr(low)
    chance = log_high + np.log(np.maximum(-np.expm1(log_low - log_high), 1e-300))
    at_high, at_low = np.exp(-(high**2) / 2 - LOG_ROOT_2PI - chance), np.exp(-(low**2) / 2 - LOG_ROOT_2PI - chance)
    by_m, by_h = at_high - at_low, at_high + at_low
    curve, twist = low * at_low - high * at_high, -(low * at_low + high * at_high)
    by_mm, by_mh, by_hh = curve - by_m**2, twist - by_m * by_h, curve - by_h**2
    return [chance, turn * by_m, h * by_h, by_mm, turn * h * by_mh, h**2 * by_hh + h * by_h]
