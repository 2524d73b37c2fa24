"""Whether sticks age by hours of play or by days: how life in days goes with the hours a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require, require_columns, times, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.power_law import PowerCounts, climb
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because, ClockVerdict

#: A coefficient this near to −1 or 0 is that clock for all practical purposes.
NEAR = 0.25
#: Standard deviation of log hours a day under which all are used alike (5 %).
LEAST_SPREAD = 0.05
#: A limit further off than this is not reached.
FURTHEST = 20.0


@dataclass(frozen=True)
class ClockChoice:
    """One group's answer.

    by: the group's values in the order asked for; usage_spread: standard deviation of the log of hours a day.
    verdict: hours, days, between (keep days with the hours a day as a covariate), neither (the same, the coefficient lies
    outside −1 to 0) or cannot_tell, with its `because`.
    coefficient: life in days goes with (hours a day)^coefficient; −1 means hours, 0 days. shape: of the Weibull.
    """

    by: tuple
    spells: int
    failures: int
    usage_spread: float | None
    verdict: ClockVerdict
    because: Because | None
    coefficient: Estimate
    shape: float | None


def clock_choice(spells: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_failures: int = 20) -> list[ClockChoice]:
    """Judge by the data which clock a group's lives go by.

    spells: counts per `by`, `hours_per_day` (above 0, of the unit; rounded to a grid of about 40 logarithmic steps),
    `entry`, `lower`, `upper` (days), `spell_count`, as in `weibull`. A failure between two visits counts at the midpoint,
    which serves while visits are less than a quarter of the life apart.
    Returns one record per group, in sorted order. cannot_tell comes with `no_failures`, `too_few_failures` (under
    `min_failures`), `no_usage_spread`, `fit_failed` or, where the limits hold both clocks, `both_clocks_fit`.
    Otherwise a clock is told where the limits hold it, or the coefficient lies within 0.25 of it.
    Raises InputError.   Method: Weibull accelerated life by maximum likelihood with late entry and right censoring,
    likelihood-ratio limits (Meeker & Escobar 1998, chapter 17, from memory).
    """
    z = normal_quantile(level)
    require_columns(spells, ["hours_per_day", "entry", "lower", "upper", "spell_count"])
    count = whole_counts(spells, "spell_count")
    spells, count = spells[count > 0], count[count > 0]
    usage, entry, lower, upper = (times(spells, name) for name in ("hours_per_day", "entry", "lower", "upper"))
    require((usage > 0) & np.isfinite(usage), "A spell has no hours a day", "Leave spells without usage out.")
    require(np.isfinite(lower) & (lower <= upper), "A spell ends before it begins", "Give 0 <= lower <= upper.")
    is_failure = upper < np.inf
    at = np.where(is_failure, (lower + np.where(is_failure, upper, lower)) / 2, lower)
    require(entry < at, "A spell enters at or after its end", "Leave spells of no length out.")
    groups = group([spells], by=by)
    code = groups.codes[0]

    def total(values: np.ndarray) -> np.ndarray:
        return np.bincount(code, weights=values, minlength=groups.count)

    size, failures = total(count), total(count * is_failure)
    log_usage = np.log(usage)
    log_usage = log_usage - (total(count * log_usage) / size)[code]
    spread = np.sqrt(total(count * log_usage**2) / size)
    because = np.full(groups.count, None, dtype=object)
    because[spread < LEAST_SPREAD] = Because.NO_USAGE_SPREAD
    because[failures < max(min_failures, 1)] = Because.TOO_FEW_FAILURES
    because[failures == 0] = Because.NO_FAILURES
    fitted = np.flatnonzero([one is None for one in because])
    place = np.full(groups.count, -1)
    place[fitted] = np.arange(len(fitted))
    mine = place[code] >= 0
    code_in, columns = place[code[mine]], [one[mine] for one in (entry, at, is_failure, log_usage, count)]
    shape, coefficient = _fitted(code_in, *columns, group_count=len(fitted), z=z) if len(fitted) else ([], [])
    found = []
    for number, values in enumerate(groups.tuples()):
        about = (values, int(size[number]), int(failures[number]), float(spread[number]))
        estimate = because[number] or coefficient[place[number]] or Because.FIT_FAILED
        if isinstance(estimate, Because):
            found.append(ClockChoice(*about, ClockVerdict.CANNOT_TELL, estimate, Estimate.refused(estimate), None))
        else:
            found.append(ClockChoice(*about, *_judged(estimate), estimate, float(shape[place[number]])))
    return found


def _judged(coefficient: Estimate) -> tuple[ClockVerdict, Because | None]:
    at = coefficient.estimate
    low = -np.inf if coefficient.low is None else coefficient.low
    high = np.inf if coefficient.high is None else coefficient.high
    is_hours, is_days = (low <= clock <= high or abs(at - clock) <= NEAR for clock in (-1, 0))
    if is_hours and is_days:
        return ClockVerdict.CANNOT_TELL, Because.BOTH_CLOCKS_FIT
    if is_hours or is_days:
        return (ClockVerdict.HOURS if is_hours else ClockVerdict.DAYS), None
    return (ClockVerdict.BETWEEN if -1 < at < 0 else ClockVerdict.NEITHER), None


def _fitted(
    code: np.ndarray,
    entry: np.ndarray,
    at: np.ndarray,
    is_failure: np.ndarray,
    log_usage: np.ndarray,
    count: np.ndarray,
    *,
    group_count: int,
    z: float,
) -> tuple[np.ndarray, list[Estimate | None]]:
    """Return the shapes, and the coefficients with their limits; None where there is no fit."""
    longest = np.full(group_count, -np.inf)
    np.maximum.at(longest, code, np.log(at))
    late = entry > 0
    x = np.log(at) - longest[code]
    failed = count * is_failure
    n, x_sum, xx_sum, g_sum = (
        np.bincount(code, weights=failed * one, minlength=group_count) for one in (np.ones(len(x)), x, x**2, log_usage)
    )
    counts = PowerCounts(
        n, x_sum, g_sum,
        np.append(code, code[late]),
        np.append(x, np.log(entry[late]) - longest[code[late]]),
        np.append(log_usage, log_usage[late]),
        np.append(count, -count[late]),
    )  # fmt: skip
    # 1.28 = π/√6 is the spread of a log Weibull time of shape 1.
    start = np.clip(1.28 / np.sqrt(np.maximum(xx_sum / n - (x_sum / n) ** 2, 1e-4)), 0.2, 20.0)
    shape, gamma, at_top, is_top = climb(counts, start, np.zeros(group_count), is_free=True)
    information = (at_top.bb * at_top.dd - at_top.bd**2) / np.where(at_top.bb < 0, -at_top.bb, np.inf)
    is_top &= information > 0
    # Along γ at the best β: δ = −βγ, so the curvature is β² times that of δ, less what β takes up.
    bend = at_top.bb - 2 * gamma * at_top.bd + gamma**2 * at_top.dd
    cross = -shape * (at_top.bd - gamma * at_top.dd)
    told = -(shape**2 * at_top.dd - cross**2 / np.where(bend < 0, bend, -1.0))
    error = 1 / np.sqrt(np.where(is_top & (told > 0), told, 1.0))
    sides = [_limit(counts, shape, gamma, at_top.value, side * error, z) for side in (-1, 1)]
    found: list[Estimate | None] = []
    for place in range(group_count):
        low, high = (None if np.isnan(side[place]) else float(side[place]) for side in sides)
        found.append(Estimate.within(float(gamma[place]), low, high) if is_top[place] else None)
    return shape, found


def _limit(
    counts: PowerCounts, shape: np.ndarray, gamma: np.ndarray, best: np.ndarray, error: np.ndarray, z: float
) -> np.ndarray:
    """Return where the profile of γ has dropped by z²/2 on the side of `error`; NaN where it does not.

    In γ the profile has one hill, because the likelihood is concave in (β, −βγ): Newton's steps on the signed root of the
    drop, kept between what is known to be inside and outside.
    """
    side, distance = np.sign(error), z * abs(error)
    near, far = np.zeros(len(gamma)), np.full(len(gamma), np.inf)
    b, is_done = shape, np.zeros(len(gamma), dtype=bool)
    for _ in range(60):
        at_gamma = gamma + side * distance
        b, _, at, _ = climb(counts, b, at_gamma, is_free=False)
        root = np.sqrt(np.maximum(2 * (best - at.value), 0.0))
        near, far = np.where(root <= z, distance, near), np.where(root > z, distance, far)
        is_done = (abs(root - z) < 1e-9 * z) | (near > FURTHEST) | (far - near < 1e-10)
        if is_done.all():
            break
        fall = side * b * at.d
        newton = distance + (z - root) * root / np.where(fall > 0, fall, np.inf)
        is_bounded = np.isfinite(far)
        halfway = np.where(is_bounded, (near + np.where(is_bounded, far, 0.0)) / 2, 2 * distance)
        step = np.where((newton > near) & (newton < far) & (newton < 4 * distance) & (fall > 0), newton, halfway)
        distance = np.where(is_done, distance, step)
    return np.where(near > FURTHEST, np.nan, gamma + side * distance)
