"""The mean number of failures of a unit by its age, from units that may fail again and again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.survival import GUARD_COUNT, GUARD_SHARE
from pipelines.estimates.watched import Watches, watched
from pipelines.vocabulary import Because

CURVE_COLUMNS = ["at", "mean_count", "low", "high", "standard_error", "poisson_error", "at_risk", "failed", "is_drawn"]


@dataclass(frozen=True)
class MeanCount:
    """One group's mean number of failures per unit since the age `counted_from`.

    by: the group's values in the order asked for; units, failures: all, whatever their age.
    curve: a row at `counted_from` and at each distinct age of a failure or exit: `at`, `mean_count`, `low`, `high`,
    `standard_error` (robust), `poisson_error`, `at_risk` (just before; in the first row just after), `failed` (failures at
    that age), `is_drawn`. Limits are NaN up to the first failure.
    drawn_to: the last age with `min_at_risk` at risk, None where so many never are; overall: the mean number by then.
    """

    by: tuple
    units: int
    failures: int
    min_at_risk: int
    counted_from: float
    drawn_to: float | None
    overall: Estimate
    curve: pd.DataFrame


@dataclass(frozen=True)
class MeanDifference:
    """Mean failures per unit of the second group less those of the first, both counted from `counted_from`.

    curve: `at`, `difference`, `low`, `high`, `at_risk_first`, `at_risk_second`, `is_drawn`, at each age where either has a row.
    overall: the difference at `compared_at`, the last age at which both have `min_at_risk` at risk. is_shown: its limits
    leave 0 out. Without a comparison `because` says why, also in `overall`, and the curve is empty.
    """

    first: tuple
    second: tuple
    counted_from: float | None
    compared_at: float | None
    overall: Estimate
    is_shown: bool
    curve: pd.DataFrame
    because: Because | None = None


@dataclass(frozen=True)
class _Steps:
    """Mean number and its two variances at each age of the curve."""

    at: np.ndarray
    mean: np.ndarray
    robust: np.ndarray
    poisson: np.ndarray
    at_risk: np.ndarray
    failed: np.ndarray

    @property
    def error(self) -> np.ndarray:
        """Return the larger of both errors: with few units, or a single one, the robust one is too small."""
        return np.sqrt(np.maximum(self.robust, self.poisson))

    def on(self, ages: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return mean and variance at other ages."""
        place = np.searchsorted(self.at, ages, side="right") - 1
        return self.mean[place], self.error[place] ** 2


def mean_cumulative(
    events: pd.DataFrame, units: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_at_risk: int | None = None
) -> list[MeanCount]:
    """Estimate the mean number of failures per unit by age, for each group.

    events, units: as in `watched.watched`: failures `unit`, `at`; stretches `by`, `unit`, `entry`, `exit`. A unit's second
    failure at an age is a row more. The mean is that of a unit watched throughout: who is off watch is not at risk.
    Counting begins where enough are at risk: min_at_risk, by default 10 or 5 % of the group's units, whichever is more.
    Failures at a younger age, where one failure of a few units would move the mean for good, are not counted. Where so
    many are never at risk it begins at the first entry and nothing is drawn.
    Returns one record per group, in sorted order. `overall` is refused as `too_few_at_risk` or `no_failures`.
    Raises InputError.   Source: Nelson (1988; 2003, from memory); limits: on the log scale, with the variance summed over
    units of Lawless & Nadeau (1995, from memory), or the Poisson one where that is larger.
    """
    z = normal_quantile(level)
    groups, watches = watched(events, units, by=by)
    return [_mean_count(values, one, z, min_at_risk) for values, one in zip(groups.tuples(), watches, strict=True)]


def difference(
    events: pd.DataFrame,
    units: pd.DataFrame,
    *,
    by: Sequence[str],
    first: tuple,
    second: tuple,
    level: float = 0.95,
    min_at_risk: int | None = None,
) -> MeanDifference:
    """Compare the mean number of failures of two groups of separate units at each age.

    events, units, min_at_risk: as in `mean_cumulative`; first, second: the values of `by` of the two groups.
    Counting begins where both have enough at risk. Refused as `no_common_age` where they never have, and as
    `no_failures` where neither failed after that.
    Raises InputError also where a group does not exist or both are one.   Source: as `mean_cumulative`; the variances add.
    """
    z = normal_quantile(level)
    groups, watches = watched(events, units, by=by)
    known = groups.tuples()
    if first == second or first not in known or second not in known:
        raise InputError(f"{first} and {second} are not two of the groups.", "Name two groups that are there.")
    pair = [watches[known.index(one)] for one in (first, second)]
    windows = [_window(one, _guard(one, min_at_risk)) for one in pair]
    if None in windows or (start := max(one[0] for one in windows)) >= (end := min(one[1] for one in windows)):
        return _not_compared(first, second, Because.NO_COMMON_AGE)
    after = [one.since(start) for one in pair]
    steps = [_steps(one, start) for one in after]
    ages = np.unique(np.concatenate([one.at for one in steps]))
    ages = ages[ages <= min(one.at[-1] for one in steps)]
    (mean_one, variance_one), (mean_two, variance_two) = (one.on(ages) for one in steps)
    gap, half_width = mean_two - mean_one, z * np.sqrt(variance_one + variance_two)
    is_known = half_width > 0
    last = int(np.searchsorted(ages, end))
    if not is_known[last]:
        return _not_compared(first, second, Because.NO_FAILURES)
    low, high = (np.where(is_known, gap + sign * half_width, np.nan) for sign in (-1, 1))
    risk_one, risk_two = (_at_risk(one, ages) for one in after)
    columns = {"at": ages, "difference": gap, "low": low, "high": high}
    columns |= {"at_risk_first": risk_one, "at_risk_second": risk_two, "is_drawn": ages <= end}
    overall = Estimate.within(float(gap[last]), float(low[last]), float(high[last]))
    is_shown = bool(abs(gap[last]) > half_width[last])
    return MeanDifference(first, second, start, end, overall, is_shown, pd.DataFrame(columns))


def _not_compared(first: tuple, second: tuple, because: Because) -> MeanDifference:
    empty = pd.DataFrame(columns=["at", "difference", "low", "high", "at_risk_first", "at_risk_second", "is_drawn"])
    return MeanDifference(first, second, None, None, Estimate.refused(because), False, empty, because)


def _mean_count(values: tuple, watches: Watches, z: float, min_at_risk: int | None) -> MeanCount:
    enough = _guard(watches, min_at_risk)
    window = _window(watches, enough)
    start, end = window or (float(watches.entry.min()), None)
    steps = _steps(watches.since(start), start)
    is_known = steps.mean > 0
    mean = np.where(is_known, steps.mean, 1.0)
    factor = np.exp(z * steps.error / mean)
    is_drawn = np.zeros(len(steps.at), dtype=bool) if end is None else steps.at <= end
    low, high = np.where(is_known, mean / factor, np.nan), np.where(is_known, mean * factor, np.nan)
    columns = (steps.at, steps.mean, low, high, np.sqrt(steps.robust), np.sqrt(steps.poisson))
    curve = pd.DataFrame(dict(zip(CURVE_COLUMNS, (*columns, steps.at_risk, steps.failed, is_drawn), strict=True)))
    overall = Estimate.refused(Because.TOO_FEW_AT_RISK)
    if end is not None:
        last = int(np.searchsorted(steps.at, end))
        overall = Estimate.refused(Because.NO_FAILURES)
        if is_known[last]:
            overall = Estimate.within(float(mean[last]), float(low[last]), float(high[last]))
    return MeanCount(values, watches.unit_count, len(watches.at), enough, start, end, overall, curve)


def _guard(watches: Watches, min_at_risk: int | None) -> int:
    return max(GUARD_COUNT, ceil(GUARD_SHARE * watches.unit_count)) if min_at_risk is None else max(min_at_risk, 1)


def _at_risk(watches: Watches, ages: np.ndarray) -> np.ndarray:
    """Return how many are at risk just before each age, and just after the first."""
    counts = np.searchsorted(np.sort(watches.entry), ages) - np.searchsorted(np.sort(watches.exit), ages)
    counts[0] = (watches.entry <= ages[0]).sum() - (watches.exit <= ages[0]).sum()
    return counts


def _window(watches: Watches, enough: int) -> tuple[float, float] | None:
    """Return the first and the last age at which enough are at risk, None where they never are."""
    entry, exit_at = np.sort(watches.entry), np.sort(watches.exit)
    begins = np.flatnonzero(np.arange(1, len(entry) + 1) - np.searchsorted(exit_at, entry, side="right") >= enough)
    ends = np.flatnonzero(np.searchsorted(entry, exit_at) - np.searchsorted(exit_at, exit_at) >= enough)
    return (float(entry[begins[0]]), float(exit_at[ends[-1]])) if len(begins) else None


def _steps(watches: Watches, start: float) -> _Steps:
    """Sum dN/Y over the ages, and the variance over the units, in one pass whatever the number of units.

    The robust variance is Σ U² over units, U = Σ 1/Y over the unit's failures − Σ d/Y² over the ages it was at risk. With
    A = Σ d/Y² so far, U is K − A(t) while the unit is watched and K when not, where K only changes when the unit enters
    (+A), fails (+1/Y) or leaves (−A). So Σ U² = Q − 2AP + A²Y, and P = Σ K, Y (both of the watched) and Q = Σ K² are sums
    over such changes.
    """
    ages = np.unique(np.concatenate([[start], watches.at, watches.exit]))
    event_place = np.searchsorted(ages, watches.at)
    failed = np.bincount(event_place, minlength=len(ages))
    at_risk = _at_risk(watches, ages)
    share = np.divide(1.0, at_risk, out=np.zeros(len(ages)), where=failed > 0)
    poisson = np.cumsum(failed * share**2)

    def so_far(when: np.ndarray) -> np.ndarray:
        return poisson[np.searchsorted(ages, when, side="right") - 1]

    stretch = np.arange(len(watches.unit))
    order = np.argsort(np.concatenate([stretch, watches.watch, stretch]), kind="stable")
    step = np.concatenate([so_far(watches.entry), share[event_place], -so_far(watches.exit)])[order]
    turn = np.repeat([1, 0, -1], [len(stretch), len(watches.at), len(stretch)])[order]
    when = np.concatenate([watches.entry, watches.at, watches.exit])[order]
    unit = np.concatenate([watches.unit, watches.unit[watches.watch], watches.unit])[order]
    total = np.cumsum(step)
    is_first = np.append(True, np.diff(unit) != 0)
    after = total - (total - step)[is_first][np.cumsum(is_first) - 1]
    before = after - step
    place = np.searchsorted(ages, when)
    watched_sum = np.select([turn > 0, turn < 0], [after, -before], step)
    p, q, y = (
        np.cumsum(np.bincount(place, weights=one, minlength=len(ages))) for one in (watched_sum, after**2 - before**2, turn)
    )
    robust = np.maximum(q - 2 * poisson * p + poisson**2 * y, 0.0)
    return _Steps(ages, np.cumsum(failed * share), robust, poisson, at_risk, failed)
