"""Weibull lifetimes by maximum likelihood from counts: late entry, right and interval censoring together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import Groups, group, require, require_columns, times, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.weibull_likelihood import Counts, counted, only
from pipelines.estimates.weibull_limits import B10, MEDIAN, SCALE, ratio_limits
from pipelines.estimates.weibull_maximum import Maximum, maximum
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class WeibullFit:
    """One group's fit. S(t) = exp(−(t / scale)^shape), t from age 0 in the clock's unit.

    by: the group's values in the order asked for; because: why there is no fit, else None.
    shape has no unit; scale, b10 and median are in the clock's unit; all with likelihood-ratio limits.
    log_likelihood: of the densities in the clock's unit, given survival to entry; a failure between two visits counts
    with its probability. None without a fit.
    """

    by: tuple
    spells: int
    failures: int
    because: Because | None
    shape: Estimate
    scale: Estimate
    b10: Estimate
    median: Estimate
    log_likelihood: float | None


@dataclass(frozen=True)
class _Spells:
    """Checked spells as arrays; entries may be counted apart, with codes of their own."""

    groups: Groups
    lower: np.ndarray
    upper: np.ndarray
    count: np.ndarray
    entry: np.ndarray
    entry_count: np.ndarray

    def per_group(self, count: np.ndarray) -> np.ndarray:
        return np.bincount(self.groups.codes[0], weights=count, minlength=self.groups.count).astype(np.int64)


def weibull(
    spells: pd.DataFrame,
    *,
    by: Sequence[str],
    level: float = 0.95,
    min_failures: int = 6,
    entries: pd.DataFrame | None = None,
) -> list[WeibullFit]:
    """Fit a Weibull distribution to each group of counted spells.

    spells: counts per `by`, `entry`, `lower`, `upper` (in the clock's unit), `spell_count`. lower == upper: failed then;
    upper infinite: still well at `lower`; else failed in (lower, upper]. entry < lower, but a failure between visits may
    enter at `lower`.
    entries: as in `survival`, for late entries counted apart; `spells` then has no `entry`.
    Returns one fit per group, in sorted order. Without a fit `because` and all four estimates say `no_failures`,
    `too_few_failures` (under `min_failures`) or `fit_failed` (the data fix no shape: all failed at once, for one).
    A limit that does not exist, or lies more than 10¹² times away, is `limit_not_reached`.
    Raises InputError.   Source: Meeker & Escobar (1998), Statistical Methods for Reliability Data, chapters 8 and 11.
    """
    z = normal_quantile(level)
    checked = _checked(spells, by=by, entries=entries)
    all_spells = checked.per_group(checked.count)
    failures = checked.per_group(checked.count * (checked.upper < np.inf))
    fitted = np.flatnonzero(failures >= max(min_failures, 1))
    estimates = _estimates(checked, fitted, z=z)
    fits = []
    for number, values in enumerate(checked.groups.tuples()):
        because = estimates.get(number, Because.TOO_FEW_FAILURES if failures[number] else Because.NO_FAILURES)
        size = (values, int(all_spells[number]), int(failures[number]))
        if isinstance(because, Because):
            fits.append(WeibullFit(*size, because, *[Estimate.refused(because)] * 4, None))
        else:
            fits.append(WeibullFit(*size, None, *because))
    return fits


def _checked(spells: pd.DataFrame, *, by: Sequence[str], entries: pd.DataFrame | None) -> _Spells:
    require_columns(spells, ["lower", "upper", "spell_count", *(["entry"] if entries is None else [])])
    count = whole_counts(spells, "spell_count")
    if not count.all():
        spells, count = spells[count > 0], count[count > 0]
    lower, upper = times(spells, "lower"), times(spells, "upper")
    require(
        np.isfinite(lower) & (lower <= upper) & (upper > 0),
        "A spell ends before it begins, or has no length",
        "Give 0 <= lower <= upper; leave spells of no length out.",
    )
    if entries is None:
        entry = times(spells, "entry")
        is_between = (lower < upper) & (upper < np.inf)
        require(
            (entry < lower) | (is_between & (entry <= lower)),
            "A spell enters at or after its end",
            "Leave spells of no length out.",
        )
        groups = group([spells], by=by)
        groups = Groups(groups.keys, (groups.codes[0], groups.codes[0]))
        return _Spells(groups, lower, upper, count, entry, count)
    require_columns(entries, ["entry", "spell_count"])
    late, late_count = times(entries, "entry"), whole_counts(entries, "spell_count")
    return _Spells(group([spells, entries], by=by), lower, upper, count, late, late_count)


def _estimates(spells: _Spells, fitted: np.ndarray, *, z: float) -> dict[int, tuple | Because]:
    """Return shape, scale, B10, median and log-likelihood, or a reason, for each group that has enough failures."""
    if not len(fitted):
        return {}
    place = np.full(spells.groups.count, -1)
    place[fitted] = np.arange(len(fitted))
    code, entry_code = (place[one] for one in spells.groups.codes)
    mine, ours = code >= 0, entry_code >= 0
    counts = counted(
        code[mine],
        spells.lower[mine],
        spells.upper[mine],
        spells.count[mine],
        entry_code[ours],
        spells.entry[ours],
        spells.entry_count[ours],
        group_count=len(fitted),
    )
    top = maximum(counts)
    found = np.flatnonzero(top.is_found)
    results: dict[int, tuple | Because] = {int(number): Because.FIT_FAILED for number in fitted}
    if len(found):
        some, tops = only(counts, found), top.only(found)
        limits = ratio_limits(some, tops, z=z)
        for place_in, number in enumerate(fitted[found]):
            results[int(number)] = _described(some, tops, limits[place_in], place_in)
    return results


def _described(counts: Counts, top: Maximum, limits: np.ndarray, place: int) -> tuple:
    """Return shape, scale, B10, median as estimates in clock units, and the log-likelihood."""
    c, b, longest = top.c[place], top.b[place], counts.log_longest[place]
    logs = [b, *((np.log(hazard) - c) / np.exp(b) for hazard in (SCALE, B10, MEDIAN))]
    shifts = [0.0, longest, longest, longest]
    estimates = [
        Estimate.within(float(np.exp(log + shift)), *(_limit(one, shift) for one in pair))
        for log, shift, pair in zip(logs, shifts, limits, strict=True)
    ]
    return (*estimates, float(top.value[place] - counts.exact_log[place]))


def _limit(log: float, shift: float) -> float | None:
    return None if np.isnan(log) else float(np.exp(log + shift))
