"""Fits of a two-parameter law of life to counted spells: what Weibull and lognormal lives share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import Groups, group, require, require_columns, times, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.life_likelihood import Likelihood
from pipelines.estimates.life_limits import Targets, ratio_limits
from pipelines.estimates.life_maximum import maximum
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class LifeSpells:
    """Checked spells as arrays; entries may be counted apart, with codes of their own."""

    groups: Groups
    lower: np.ndarray
    upper: np.ndarray
    count: np.ndarray
    entry: np.ndarray
    entry_count: np.ndarray

    def per_group(self, count: np.ndarray) -> np.ndarray:
        """Return the sum of a count of each row by group."""
        return np.bincount(self.groups.codes[0], weights=count, minlength=self.groups.count).astype(np.int64)

    @property
    def failures(self) -> np.ndarray:
        """Return the failures of each group."""
        return self.per_group(self.count * (self.upper < np.inf))


@dataclass(frozen=True)
class Line:
    """One group's fitted line y = c + βx in clock units: log β, log times and heights, each with its limits (None: not reached).

    Each is (estimate, low, high): `log_shape`, the log times at the heights asked for, the heights at the ages asked for.
    """  # fmt: skip

    log_shape: tuple
    log_times: list[tuple]
    heights: list[tuple]
    log_likelihood: float


@dataclass(frozen=True)
class GroupFit:
    """One group's values of `by`, its size, and its line or why there is none."""

    by: tuple
    spells: int
    failures: int
    line: Line | Because


#: Beyond this the exponential of a log time, or of a log shape, is no number.
LARGEST_LOG = 690.0


def exponential(triple: tuple, *, is_falling: bool = False) -> Estimate:
    """Return the estimate whose log, with its limits, is the triple; where falling, whose log is the triple negated."""
    estimate, low, high = (None if one is None or abs(one) > LARGEST_LOG else exp(-one if is_falling else one) for one in triple)
    if estimate is None:
        return Estimate.refused(Because.FIT_FAILED)
    return Estimate.within(estimate, *((high, low) if is_falling else (low, high)))


def share_above(triple: tuple, share: Callable[[float], float]) -> Estimate:
    """Return the share that survives, falling in the height of the line, for a height with its limits."""
    estimate, low, high = (None if one is None else share(one) for one in triple)
    return Estimate.within(estimate, high, low)


def checked(spells: pd.DataFrame, *, by: Sequence[str], entries: pd.DataFrame | None) -> LifeSpells:
    """Return spells as in `weibull` as arrays. Raises InputError on a spell that cannot be."""
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
        return LifeSpells(groups, lower, upper, count, entry, count)
    require_columns(entries, ["entry", "spell_count"])
    late, late_count = times(entries, "entry"), whole_counts(entries, "spell_count")
    return LifeSpells(group([spells, entries], by=by), lower, upper, count, late, late_count)


def fitted(
    spells: LifeSpells,
    law: type[Likelihood],
    *,
    heights: Sequence[float],
    ages: Sequence[float],
    level: float,
    min_failures: int,
) -> list[GroupFit]:
    """Fit a law to each group; limits at the level for log β, the log times at `heights` and the heights at `ages`.

    Raises InputError on a level or an age that cannot be.
    """
    z = normal_quantile(level)
    if not all(0 < age < np.inf for age in ages):
        raise InputError("The share still working is asked for at an age that is none.", "Ask for ages above 0.")
    size, failures = spells.per_group(spells.count), spells.failures
    lines: list[Line | Because] = [Because.TOO_FEW_FAILURES if one else Because.NO_FAILURES for one in failures]
    enough = np.flatnonzero(failures >= max(min_failures, 1))
    if len(enough):
        place = np.full(spells.groups.count, -1)
        place[enough] = np.arange(len(enough))
        found = _lines(_counted(spells, place, law), heights=heights, ages=ages, z=z)
        for number, line in zip(enough, found, strict=True):
            lines[number] = line
    return [
        GroupFit(*one)
        for one in zip(spells.groups.tuples(), size.tolist(), failures.tolist(), lines, strict=True)
    ]  # fmt: skip


def _counted(spells: LifeSpells, place: np.ndarray, law: type[Likelihood]) -> Likelihood:
    code, entry_code = (place[one] for one in spells.groups.codes)
    mine, ours = code >= 0, entry_code >= 0
    return law.of(
        code[mine],
        spells.lower[mine],
        spells.upper[mine],
        spells.count[mine],
        entry_code[ours],
        spells.entry[ours],
        spells.entry_count[ours],
        group_count=int(place.max()) + 1,
    )


def _lines(counts: Likelihood, *, heights: Sequence[float], ages: Sequence[float], z: float) -> list[Line | Because]:
    top = maximum(counts)
    lines: list[Line | Because] = [Because.FIT_FAILED] * counts.group_count
    found = np.flatnonzero(top.is_found)
    if not len(found):
        return lines
    counts, top = counts.only(found), top.only(found)
    targets = Targets.of(heights, log_ages=np.log(np.asarray(ages, dtype=float)), log_longest=counts.log_longest)
    limits = ratio_limits(counts, top, targets, z=z)
    shift = np.repeat([0.0, 1.0, 0.0], [1, len(heights), len(ages)]) * counts.log_longest[:, None]
    values = np.concatenate([targets.best(top)[:, ::2, None], limits], axis=2) + shift[:, :, None]
    log_likelihood = top.value - counts.exact_log
    for place, number in enumerate(found):
        triples = [tuple(None if np.isnan(one) else float(one) for one in row) for row in values[place]]
        split = 1 + len(heights)
        lines[number] = Line(triples[0], triples[1:split], triples[split:], float(log_likelihood[place]))
    return lines
