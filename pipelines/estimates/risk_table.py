"""How many are at risk, fail and leave at each time; and the curve that lifelines fits to such a table."""

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


def fitted_by_lifelines(table: RiskTable, alive: int, *, level: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the curve and its limits at the first `alive` exit times; after those it must not go on from 0.

    Late import: lifelines takes over a second.
    """
    from lifelines import KaplanMeierFitter

    entry, exit_at, is_failure, weight = _paired(table, alive)
    late = {"entry": entry} if entry.any() else {}
    # lifelines switches numpy's warnings off for the whole process; here that ends with the fit.
    with np.errstate(divide="ignore", invalid="ignore"):
        fitter = KaplanMeierFitter().fit(exit_at, is_failure, weights=weight, alpha=1 - level, **late)
    place = np.searchsorted(fitter.survival_function_.index.to_numpy(), table.at[:alive])
    limits = fitter.confidence_interval_.to_numpy()
    return fitter.survival_function_.to_numpy()[place, 0], limits[place, 0], limits[place, 1]


def _paired(table: RiskTable, alive: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return entry, exit, is_failure and weight of few spells that have the same risk set as all of them.

    The risk set only knows how many entered and how many left by each time, so the earliest entry may be paired with
    the earliest exit, and so on: as many rows as there are distinct times, however many (entry, exit) cells there were.
    """
    exit_at = np.repeat(table.at[:alive], 2)
    is_failure = np.tile([True, False], alive)
    leaving = np.column_stack([table.failed[:alive], table.censored[:alive]]).ravel()
    exit_at, is_failure, leaving = exit_at[leaving > 0], is_failure[leaving > 0], leaving[leaving > 0]
    left_by, entered_by = np.cumsum(leaving), np.cumsum(table.entered)
    cut = np.unique(np.append(left_by, entered_by[entered_by < left_by[-1]]))
    before = np.append(0, cut[:-1])
    entry = table.entry[np.searchsorted(entered_by, before, side="right")]
    leaves = np.searchsorted(left_by, before, side="right")
    bridge_from, bridge_to = _bridges(table, alive)
    return (
        np.append(entry, bridge_from),
        np.append(exit_at[leaves], bridge_to),
        np.append(is_failure[leaves], np.zeros(len(bridge_to), dtype=bool)),
        np.append(np.diff(cut, prepend=0), np.ones(len(bridge_to), dtype=np.int64)),
    )


def _bridges(table: RiskTable, alive: int) -> tuple[np.ndarray, np.ndarray]:
    """Return spells that cross the gaps in which nobody is at risk.

    lifelines refuses a risk set that empties by censoring. One censored spell from the last exit before such a gap to
    the next entry is at risk only while nothing can happen, so it changes no number.
    """
    entered_by = np.append(0, np.cumsum(table.entered))
    inside = entered_by[np.searchsorted(table.entry, table.at[:alive], side="right")]
    is_empty = (inside == np.cumsum(table.removed[:alive]))[:-1]
    start = table.at[: alive - 1][is_empty]
    return start, table.entry[np.searchsorted(table.entry, start, side="right")]
