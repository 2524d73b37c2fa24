"""Whether failures of units that may fail again come more and more often, or more rarely, with age."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.power_law import PowerCounts, climb
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.watched import Watches, watched
from pipelines.vocabulary import Because, TrendVerdict

#: From this many failed units on, the spread between units is told well enough to judge the test by it.
UNITS_FOR_SPREAD = 10


@dataclass(frozen=True)
class Trend:
    """One group's trend.

    by: the group's values in the order asked for; tested: failures that the tests use, all but those that ended a unit.
    laplace_z: above 0 where failures come late in the watch. robust_z: the same over the spread between units, None with
    fewer than 10 units failed. p_value: two-sided, of whichever of the two is nearer to 0; the verdict is by it.
    military_chi2: on 2·tested degrees of freedom, large where failures come early; military_p: two-sided.
    shape, scale: of the power law, mean number by age t = (t / scale)^shape; the shape has no unit and is above 1 where
    failures get more frequent, the scale is in the clock's unit. log_likelihood: in the clock's unit.
    Where `because` is given everything after it is None or refused.
    """

    by: tuple
    units: int
    failures: int
    tested: int
    verdict: TrendVerdict
    because: Because | None
    laplace_z: float | None
    robust_z: float | None
    p_value: float | None
    military_chi2: float | None
    military_p: float | None
    shape: Estimate
    scale: float | None
    log_likelihood: float | None


def trend(
    events: pd.DataFrame, units: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_failures: int = 6
) -> list[Trend]:
    """Test whether the rate of failures changes with age, and fit a power-law process, for each group.

    events, units: as in `watched.watched`: failures `unit`, `at`; stretches `by`, `unit`, `entry`, `exit`, and optionally
    `is_ended_by_failure`. Ages may be dates counted from some day, for a trend in the calendar.
    Returns one record per group, in sorted order; `no_failures` or `too_few_failures` (under `min_failures` tested).
    The tests place each failure in the time its unit was watched, stretch after stretch, given how many there were: with
    a constant rate they lie evenly in it, so units may enter late, be followed for different times and differ in their
    rate. A unit whose last stretch `is_ended_by_failure` is taken up to that failure, which itself tells nothing. The power
    law takes all units as alike, and late entries as independent of what was before; its shape leans more on the first
    failures than Laplace's test, by which the verdict is. It is `fit_failed` where the data fix none.
    Raises InputError.   Sources (from memory): Laplace test, Cox & Lewis (1966), over units and their spread as in Lawless,
    Çığşar & Cook (2012); MIL-HDBK-189; power law and chi-square limits, Crow (1974), with late entry of as many degrees of
    freedom as the curvature tells failures.
    """
    normal_quantile(level)
    groups, watches = watched(events, units, by=by)
    fits = _power_laws(watches, level=level)
    return [
        _trend(values, one, fit, level=level, min_failures=max(min_failures, 1))
        for values, one, fit in zip(groups.tuples(), watches, fits, strict=True)
    ]


def _trend(
    values: tuple, watches: Watches, fit: tuple[Estimate, float | None, float | None], *, level: float, min_failures: int
) -> Trend:
    from scipy.special import chdtr, chdtrc, ndtr

    unit, elapsed, total = _placed(watches)
    tested = len(unit)
    size = (values, watches.unit_count, len(watches.at), tested)
    if tested < min_failures:
        because = Because.TOO_FEW_FAILURES if len(watches.at) else Because.NO_FAILURES
        refused = [None] * 5
        return Trend(*size, TrendVerdict.TOO_FEW, because, *refused, Estimate.refused(because), None, None)
    late = elapsed - total / 2
    laplace = late.sum() / np.sqrt((total**2).sum() / 12)
    by_unit = np.bincount(unit, weights=late)
    robust = None
    if len(np.unique(unit)) >= UNITS_FOR_SPREAD and (by_unit != 0).any():
        robust = float(by_unit.sum() / np.sqrt((by_unit**2).sum()))
    careful = laplace if robust is None or abs(laplace) < abs(robust) else robust
    p_value = float(2 * ndtr(-abs(careful)))
    military = float(2 * np.log(total / elapsed).sum())
    military_p = min(1.0, float(2 * min(chdtr(2 * tested, military), chdtrc(2 * tested, military))))
    verdict = TrendVerdict.NO_TREND_SHOWN
    if p_value < 1 - level:
        verdict = TrendVerdict.GETTING_MORE_FREQUENT if careful > 0 else TrendVerdict.GETTING_RARER
    return Trend(*size, verdict, None, float(laplace), robust, p_value, military, military_p, *fit)


def _placed(watches: Watches) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return of each tested failure its unit's place, the time the unit had been watched by then, and that of all."""
    length = watches.exit - watches.entry
    is_first = np.append(True, np.diff(watches.unit) != 0)
    unit_of = np.cumsum(is_first) - 1
    run = np.cumsum(length)
    before = run - length - (run - length)[is_first][unit_of]
    total = np.bincount(unit_of, weights=length)
    unit = unit_of[watches.watch]
    elapsed = before[watches.watch] + watches.at - watches.entry[watches.watch]
    is_ended = watches.is_ended_by_failure[np.append(np.flatnonzero(is_first)[1:], len(length)) - 1]
    is_last = np.append(np.diff(unit) > 0, True)[: len(unit)] & is_ended[unit]
    total[unit[is_last]] = elapsed[is_last]
    return unit[~is_last], elapsed[~is_last], total[unit[~is_last]]


def _power_laws(watches: list[Watches], *, level: float) -> list[tuple[Estimate, float | None, float | None]]:
    """Return shape, scale and log-likelihood of each group."""
    from scipy.special import chdtri

    if not watches:
        return []
    longest = np.array([np.log(one.exit.max()) for one in watches])
    failures = np.array([len(one.at) for one in watches], dtype=float)
    log_sum = np.array([np.log(one.at).sum() for one in watches])
    ends = [np.log(np.concatenate([one.exit, one.entry[one.entry > 0]])) - top for one, top in zip(watches, longest, strict=True)]
    weight = [np.where(np.arange(len(end)) < len(one.exit), 1.0, -1.0) for one, end in zip(watches, ends, strict=True)]
    code = np.repeat(np.arange(len(watches)), [len(end) for end in ends])
    x = np.concatenate(ends)
    x_sum = log_sum - failures * longest
    counts = PowerCounts(failures, x_sum, np.zeros(len(watches)), code, x, np.zeros(len(x)), np.concatenate(weight))
    start = failures / np.maximum(-x_sum, 1e-3 * np.maximum(failures, 1.0))
    shape, _, at, is_top = climb(counts, np.clip(start, 0.1, 20.0), np.zeros(len(watches)), is_free=False)
    fits: list[tuple[Estimate, float | None, float | None]] = []
    for place, one in enumerate(watches):
        if not is_top[place]:
            fits.append((Estimate.refused(Because.FIT_FAILED), None, None))
            continue
        n, b = failures[place], shape[place]
        told = n if not one.entry.any() else float(-at.bb[place] * b**2)
        low, high = (float(b * chdtri(2 * told, tail) / (2 * told)) for tail in ((1 + level) / 2, (1 - level) / 2))
        scale = float(np.exp(longest[place] + (at.log_at_risk[place] - np.log(n)) / b))
        value = at.value[place] + n * (np.log(n) - 1) - log_sum[place]
        fits.append((Estimate.within(float(b), low, high), scale, float(value)))
    return fits
