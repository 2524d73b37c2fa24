"""Units watched over stretches of age, and the failures seen there: checked, grouped and matched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
import pandas as pd

from pipelines.estimates.counts import Groups, group, require, require_columns, times


@dataclass(frozen=True)
class Watches:
    """Stretches (entry, exit] sorted by unit and entry, and failures sorted by stretch and age.

    unit: a number for each unit; watch: the stretch of each failure, a place in the other arrays.
    is_ended_by_failure: the stretch ended because of its last failure.
    """

    unit: np.ndarray
    entry: np.ndarray
    exit: np.ndarray
    is_ended_by_failure: np.ndarray
    at: np.ndarray
    watch: np.ndarray

    @property
    def unit_count(self) -> int:
        return len(np.unique(self.unit))

    def only(self, kept: np.ndarray) -> Watches:
        """Return some of the stretches, with their failures."""
        place = np.cumsum(kept) - 1
        seen = kept[self.watch]
        stretches = (getattr(self, field.name)[kept] for field in fields(self)[:4])
        return Watches(*stretches, self.at[seen], place[self.watch[seen]])

    def since(self, age: float) -> Watches:
        """Return what was seen after an age."""
        late = self.at > age
        after = Watches(
            self.unit, np.maximum(self.entry, age), self.exit, self.is_ended_by_failure, self.at[late], self.watch[late]
        )
        return after.only(self.exit > age)


def watched(events: pd.DataFrame, units: pd.DataFrame, *, by: Sequence[str]) -> tuple[Groups, list[Watches]]:
    """Return the groups of `by` and what was watched in each, in the same order.

    units: a row for each stretch in which a unit was watched: `by`, `unit`, `entry`, `exit` (0 <= entry < exit, ages in
    the clock's unit); a unit may have several that do not overlap, also in different groups. Optionally
    `is_ended_by_failure`: the stretch ended because of its last failure, as where the unit was scrapped for it.
    events: a row for each failure: `unit`, `at`, inside (entry, exit] of one of its unit's stretches, whose group it joins.
    With the columns of `by` too, a unit may be watched in several groups at one age, for a stick of each, say.
    Raises InputError.
    """
    require_columns(units, [*by, "unit", "entry", "exit"])
    require_columns(events, ["unit", "at"])
    require(units["unit"].notna().to_numpy(), "A stretch names no unit", "Number the units.")
    named = [*by, "unit"] if set(by) <= set(events.columns) else ["unit"]
    # A frame without rows may have columns of any type.
    unit, event_unit = group([units, events if len(events) else units.iloc[:0]], by=named).codes
    entry, exit_at = times(units, "entry"), times(units, "exit")
    require((entry < exit_at) & np.isfinite(exit_at), "A unit leaves when or before it enters", "Leave such stretches out.")
    order = np.lexsort((entry, unit))
    unit, entry, exit_at = unit[order], entry[order], exit_at[order]
    is_apart = (np.diff(unit) > 0) | (exit_at[:-1] <= entry[1:])
    require(is_apart, "A unit is watched twice at one age", "Let the stretches of a unit follow each other.")
    at = times(events, "at")
    watch = _watch_of(event_unit, at, unit, entry)
    is_seen = watch >= 0
    is_seen[is_seen] = at[is_seen] <= exit_at[watch[is_seen]]
    require(is_seen, "A failure falls outside the watch of its unit", "Count failures inside (entry, exit] only.")
    is_ended = np.zeros(len(units), dtype=bool)
    if "is_ended_by_failure" in units.columns:
        is_ended = units["is_ended_by_failure"].to_numpy(dtype=bool)[order]
    has_failed = np.bincount(watch, minlength=len(units)) > 0
    require(~is_ended | has_failed, "A stretch ended by failure holds none", "Give the failure, or clear the flag.")
    groups = group([units], by=by)
    code = groups.codes[0][order]
    by_group = np.argsort(code, kind="stable")
    place = np.empty(len(units), dtype=np.int64)
    place[by_group] = np.arange(len(units))
    watch = place[watch]
    by_watch = np.lexsort((at, watch))
    watch, at = watch[by_watch], at[by_watch]
    bounds = np.searchsorted(code[by_group], np.arange(groups.count + 1))
    columns = [one[by_group] for one in (unit, entry, exit_at, is_ended)]
    found = []
    for start, end in pairwise(bounds):
        mine = slice(*np.searchsorted(watch, [start, end]))
        found.append(Watches(*(one[start:end] for one in columns), at[mine], watch[mine] - start))
    return groups, found


def _watch_of(event_unit: np.ndarray, at: np.ndarray, unit: np.ndarray, entry: np.ndarray) -> np.ndarray:
    """Return the last stretch of the failure's unit that began before it; −1 where there is none."""
    ages, rank = np.unique(np.concatenate([entry, at]), return_inverse=True)
    begins = unit * len(ages) + rank[: len(entry)]
    place = np.searchsorted(begins, event_unit * len(ages) + rank[len(entry) :], side="left") - 1
    return np.where((place >= 0) & (np.append(unit, -1)[place] == event_unit), place, -1)
