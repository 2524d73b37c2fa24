"""How many are at risk, fail and leave at each time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import (
    Groups,
    Tally,
    group,
    require,
    require_columns,
    tally,
    times,
    whole_counts,
)


@dataclass(frozen=True)
class RiskTable:
    """One group's counts, sorted: who failed and who was censored at each exit time, who entered when."""

    at: np.ndarray
    failed: np.ndarray
    censored: np.ndarray
    entry: np.ndarray
    entered: np.ndarray

    @property
    def removed(self) -> np.ndarray:
        return self.failed + self.censored

    def at_risk(self) -> np.ndarray:
        """Return how many are at risk just before each exit time: entered earlier and not yet gone."""
        entered_before = np.append(0, np.cumsum(self.entered))[np.searchsorted(self.entry, self.at, side="left")]
        return entered_before - (np.cumsum(self.removed) - self.removed)


def risk_tables(spells: pd.DataFrame, *, by: Sequence[str], entries: pd.DataFrame | None) -> tuple[Groups, list[RiskTable]]:
    """Reduce spells (as in `survival`) to one table of counts for each group, in the order of the groups."""
    require_columns(spells, ["at", "is_failure", "spell_count", *(["entry"] if entries is None else [])])
    count = whole_counts(spells, "spell_count")
    if not count.all():
        spells, count = spells[count > 0], count[count > 0]
    at = times(spells, "at")
    require(np.isfinite(at) & (at > 0), "A spell ends nowhere, or has no length", "Leave such spells out.")
    if entries is None:
        entry = times(spells, "entry")
        require(entry < at, "A spell enters at or after its end", "Leave spells of no length out.")
        groups = group([spells], by=by)
        entered = tally(groups.codes[0], entry, [count])
    else:
        groups = group([spells, entries], by=by)
        entered = _entered(groups, count, entries)
    is_failure = spells["is_failure"].to_numpy(dtype=bool)
    left = tally(groups.codes[0], at, [count * is_failure, count * ~is_failure])
    return groups, [_risk_table(number, left, entered) for number in range(groups.count)]


def _entered(groups: Groups, count: np.ndarray, entries: pd.DataFrame) -> Tally:
    """Tally late entries as given; whoever is in the spells and not among them entered at 0."""
    require_columns(entries, ["entry", "spell_count"])
    late, late_count = times(entries, "entry"), whole_counts(entries, "spell_count")
    spell_code, late_code = groups.codes
    from_start = np.bincount(spell_code, weights=count, minlength=groups.count)
    from_start -= np.bincount(late_code, weights=late_count, minlength=groups.count)
    return tally(
        np.append(np.arange(groups.count), late_code),
        np.append(np.zeros(groups.count), late),
        [np.append(from_start, late_count)],
    )


def _risk_table(number: int, left: Tally, entered: Tally) -> RiskTable:
    mine, ours = (slice(*np.searchsorted(one.code, [number, number + 1])) for one in (left, entered))
    failed, censored = (one[mine].astype(np.int64) for one in left.sums)
    entry, entry_count = entered.value[ours], entered.sums[0][ours].astype(np.int64)
    table = RiskTable(left.value[mine], failed, censored, entry[entry_count != 0], entry_count[entry_count != 0])
    is_sound = (table.entered >= 0).all() and (table.at_risk() >= table.removed).all()
    require(np.array([is_sound]), "More spells end than ever entered", "Count late entries over the same spells.")
    return table
