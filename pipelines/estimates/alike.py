"""A batch beside modules like it: at each age and in each cell (family, usage class, site) those at risk and those that fail.

The rest is made alike by the batch itself: at each age a cell of the rest counts as much as of the batch is at risk in it
then. So what is expected of the batch is what its modules would have done had they failed, at each age and in each place,
as the rest did; cells, late entry and batches younger than the rest do not upset it.
Source: the conditional method of relative survival, Ederer & Heise (1959), with an observed rest in place of a life table
(from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
import pandas as pd

from pipelines.estimates.competing import mechanism_codes
from pipelines.estimates.counts import group, require, require_columns, times, whole_counts
from pipelines.estimates.survival import GUARD_COUNT, GUARD_SHARE
from pipelines.vocabulary import Because

#: At an age a cell is compared only where so many of the rest are at risk in it.
LEAST_ALIKE = 3


@dataclass(frozen=True)
class Rows:
    """The spells of compared cells as arrays of one length. begin, end: the ages (numbered) at which a row is at risk;
    failing: the age at which it fails, the number of ages where it does not; mechanism: numbered, -1 where not failed."""

    is_batch: np.ndarray
    cell: np.ndarray
    cluster: np.ndarray
    count: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    failing: np.ndarray
    mechanism: np.ndarray


@dataclass(frozen=True)
class Alike:
    """age: ascending, at which anybody failed where both sides are watched by enough. The tables are (cells, ages), 0 where
    a cell is not compared: `batch`, `rest` at risk just before, `batch_failed`, `rest_failed`.

    counted_from: the age from which both sides are watched by enough; min_at_risk: what is enough; modules, failures: all of
    the batch; alone: its modules in cells where no other is; compared_failures, rest_failures: those in the tables.
    because: why nothing can be compared; the tables are then empty.
    """

    rows: Rows
    age: np.ndarray
    batch: np.ndarray
    rest: np.ndarray
    batch_failed: np.ndarray
    rest_failed: np.ndarray
    mechanisms: np.ndarray
    counted_from: float
    min_at_risk: int
    modules: int
    failures: int
    alone: int
    because: Because | None = None

    @property
    def compared_failures(self) -> int:
        return int(self.batch_failed.sum())

    @property
    def rest_failures(self) -> int:
        return int(self.rest_failed.sum())

    @property
    def rest_weight(self) -> np.ndarray:
        """What one of the rest at risk counts for in the batch: (cells, ages)."""
        return np.divide(self.batch, self.rest, out=np.zeros(self.rest.shape), where=self.rest > 0)

    def influence(
        self, places: np.ndarray, *, taken: tuple[np.ndarray, np.ndarray], gained: tuple[np.ndarray, np.ndarray],
        mechanism: int | None = None,
    ) -> np.ndarray:  # fmt: skip
        """Return by cluster what its spells add, up to and with each age of `places`: (clusters, places).

        taken, gained: (cells, ages) of the batch and of the rest: what a spell at risk takes away at an age, and what one that
        fails then adds; mechanism: only failures of it add.
        """
        rows, size = self.rows, len(self.age)
        total = np.empty((len(rows.cell), len(places)))
        fails = (rows.failing < size) & (mechanism is None or rows.mechanism == mechanism)
        for is_batch, loss, gain in zip((True, False), taken, gained, strict=True):
            mine = np.flatnonzero(rows.is_batch == is_batch)
            cell, running = rows.cell[mine], np.pad(np.cumsum(loss, axis=1), ((0, 0), (1, 0)))
            begin, end = (np.minimum(one[mine, None], places + 1) for one in (rows.begin, rows.end))
            failing = rows.failing[mine]
            added = np.where(fails[mine], gain[cell, np.minimum(failing, size - 1)], 0.0)
            total[mine] = np.where(failing[:, None] <= places, added[:, None], 0.0)
            total[mine] -= running[cell[:, None], end] - running[cell[:, None], begin]
        total *= rows.count[:, None]
        order = np.argsort(rows.cluster, kind="stable")
        starts = np.flatnonzero(np.append(True, np.diff(rows.cluster[order]) > 0))
        return np.add.reduceat(total[order], starts, axis=0)


def alike(spells: pd.DataFrame, *, min_at_risk: int | None = None) -> Alike:
    """Set a batch beside the rest in its own cells.

    spells: counts per `is_batch`, `cell`, `cluster` (the controller), `entry`, `at` (0 <= entry < at, in the clock's unit),
    `is_failure`, `spell_count` and, if wanted, `failed_by` (the mechanism).
    min_at_risk: by default 10 or 5 % of the modules of the side, whichever is more, on either side.
    Refused: `no_spells` without a batch or a rest, `confounded` where no cell has both, `no_failures` where nothing
    failed in them, `no_common_age` where never enough of both are at risk.
    Raises InputError.
    """
    require_columns(spells, ["is_batch", "cell", "cluster", "entry", "at", "is_failure", "spell_count"])
    count = whole_counts(spells, "spell_count")
    spells, count = spells[count > 0], count[count > 0]
    entry, at = times(spells, "entry"), times(spells, "at")
    require(np.isfinite(at) & (entry < at), "A spell ends nowhere, or has no length", "Leave such spells out.")
    is_batch, is_failure = (spells[name].to_numpy(dtype=bool) for name in ("is_batch", "is_failure"))
    cells = group([spells], by=["cell"])
    code = cells.codes[0]
    both = (np.bincount(code, is_batch, cells.count) > 0) & (np.bincount(code, ~is_batch, cells.count) > 0)
    names, mechanism = (np.zeros(0, dtype=object), np.where(is_failure, 0, -1))
    if "failed_by" in spells:
        names, mechanism = mechanism_codes(spells.assign(mechanism=spells["failed_by"]))
    size = {
        "modules": int(count[is_batch].sum()), "failures": int(count[is_batch & is_failure].sum()),
        "alone": int(count[is_batch & ~both[code]].sum()),
    }  # fmt: skip
    kept = both[code]
    age = np.unique(at[kept & is_failure])
    because = None
    if not is_batch.any() or is_batch.all():
        because = Because.NO_SPELLS
    elif not kept.any():
        because = Because.CONFOUNDED
    elif not len(age):
        because = Because.NO_FAILURES
    place = (np.cumsum(both) - 1)[code[kept]]
    _, cluster = np.unique(group([spells[kept]], by=["cluster"]).codes[0], return_inverse=True)
    failing = np.where(is_failure, np.searchsorted(age, at), len(age))
    begin, end = np.searchsorted(age, entry, side="right"), np.searchsorted(age, at, side="right")
    rows = Rows(is_batch[kept], place, cluster, count[kept].astype(float), begin[kept], end[kept], failing[kept], mechanism[kept])
    least = [max(GUARD_COUNT, ceil(GUARD_SHARE * int(count[kept & one].sum()))) for one in (is_batch, ~is_batch)]
    least = least if min_at_risk is None else [max(min_at_risk, 1)] * 2
    empty = [np.zeros((int(both.sum()), 0))] * 4
    if because is not None:
        return Alike(rows, age[:0], *empty, names, 0.0, least[0], **size, because=because)
    tables = _tables(rows, int(both.sum()), len(age))
    is_enough = (tables[0].sum(axis=0) >= least[0]) & (tables[1].sum(axis=0) >= least[1])
    if not is_enough.any():
        return Alike(rows, age[:0], *empty, names, 0.0, least[0], **size, because=Because.NO_COMMON_AGE)
    first, last = int(np.argmax(is_enough)), int(len(age) - np.argmax(is_enough[::-1]))
    from_start = count[kept & is_batch & (entry == 0)].sum() >= least[0] and not first
    cut = Rows(*_cut(rows, first, last))
    tables = [one[:, first:last] for one in tables]
    return Alike(cut, age[first:last], *tables, names, 0.0 if from_start else float(age[first]), least[0], **size)


def _tables(rows: Rows, cells: int, ages: int) -> list[np.ndarray]:
    """Return at risk and failed of both sides, 0 where too few of the rest are at risk, or none of the batch."""
    found = []
    for mine in (rows.is_batch, ~rows.is_batch):
        steps = np.zeros((cells, ages + 1))
        np.add.at(steps, (rows.cell[mine], rows.begin[mine]), rows.count[mine])
        np.add.at(steps, (rows.cell[mine], rows.end[mine]), -rows.count[mine])
        failed = np.zeros((cells, ages + 1))
        np.add.at(failed, (rows.cell[mine], rows.failing[mine]), rows.count[mine])
        found.append((np.cumsum(steps, axis=1)[:, :ages], failed[:, :ages]))
    (batch, batch_failed), (rest, rest_failed) = found
    is_compared = (batch > 0) & (rest >= LEAST_ALIKE)
    return [np.where(is_compared, one, 0.0) for one in (batch, rest, batch_failed, rest_failed)]


def _cut(rows: Rows, first: int, last: int) -> tuple[np.ndarray, ...]:
    """Return the columns of the rows for the ages from `first` up to, not with, `last`; numbered from `first`."""
    begin, end = (np.clip(one, first, last) - first for one in (rows.begin, rows.end))
    inside = (rows.failing >= first) & (rows.failing < last)
    failing = np.where(inside, rows.failing - first, last - first)
    return rows.is_batch, rows.cell, rows.cluster, rows.count, begin, end, failing, rows.mechanism
