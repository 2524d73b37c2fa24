"""Evidence that a batch fails more often than the others, kept up as the log grows, with a bound on false alarms at any time.

A cell holds modules that are alike but for their batch: the same stratum, fitted in the same period, at the same age. Of the N
failures of a cell so far, X are of the batch. Were it r times as bad, each would be of the batch with chance rE / (rE + F),
where E and F are the exposure of the batch and of the others in that cell so far. How often such modules fail at all drops out,
so no baseline is estimated, and a thin one simply tells little. The evidence of a cell that the ratio is Rr rather than r,

    R**X * ((r*E + F) / (R*r*E + F))**N,

is multiplied over cells and averaged over several R. With r the ratio that is tolerated, its mean is at most 1 at every look, for
every batch that is at most that bad (binomial; drawn without replacement it is lower). Where both sides stay in proportion it is
a martingale, so by Ville's inequality it ever reaches 1/a with chance a at most; where they do not, as simulation shows.

Sources: Wald (1945); Ville (1939) (from memory); Cox (1975), Biometrika 62:269–276 (from memory); ter Schure, Pérez-Ortiz, Ly &
Grünwald, the safe logrank test (from memory), which takes each moment as a cell of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

#: How many times as bad as tolerated a batch may be, and how much each of these weighs.
RATIOS, WEIGHTS = np.array([1.3, 1.6, 2.0, 3.0, 5.0]), np.array([0.2, 0.25, 0.25, 0.2, 0.1])


@dataclass(frozen=True)
class Running:
    """Arrays of batches × looks, each as known at the end of that look.

    log_evidence: natural logarithm, 0 where nothing is known. observed: failures of the batch in cells that hold others too;
    expected: as many as the batch would have had, had all of a cell failed alike.
    """

    log_evidence: np.ndarray
    observed: np.ndarray
    expected: np.ndarray


def running_evidence(counts: pd.DataFrame, *, batches: int, looks: int, tolerance: float) -> Running:
    """Return the evidence that each batch is more than `tolerance` times as bad as the others.

    counts: the whole numbers cell, batch (0 to batches − 1) and look (0 to looks − 1), at_risk (exposure gained in that look) and
    failures (found in it); one row each, in any order.
    """
    rows = _told(counts, batches, looks)
    if not len(rows):
        return Running(*(np.zeros((batches, looks)) for _ in range(3)))
    cell, batch, look = (rows[name].to_numpy() for name in ("cell", "batch", "look"))
    first, last = _ends(cell, look)
    whole = _Series(first, last, cell, look, rows)  # cell by cell
    starts = np.flatnonzero(np.diff(cell, prepend=-1) | np.diff(batch, prepend=-1))
    series = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(rows)))
    own = _Series(look[starts], last[cell[starts]], series, look, rows)  # batch by batch in each cell
    owner = cell[starts][own.of]
    place = whole.start[owner] + own.look - first[owner]
    exposure, failed, in_all, all_failed = own.at_risk, own.failures, whole.at_risk[place], whole.failures[place]
    is_held_against = in_all > exposure
    at = batch[starts][own.of] * looks + own.look

    def over_looks(values: np.ndarray) -> np.ndarray:
        gained = np.diff(values, prepend=0.0)
        gained[own.start] = values[own.start]
        return np.bincount(at, gained, minlength=batches * looks).reshape(batches, looks).cumsum(axis=1)

    own_pull, others = tolerance * exposure, in_all - exposure
    pull = np.log(own_pull + others)
    logs = [
        np.log(weight) + over_looks(failed * np.log(ratio) - all_failed * (np.log(ratio * own_pull + others) - pull))
        for ratio, weight in zip(RATIOS, WEIGHTS, strict=True)
    ]
    return Running(
        np.logaddexp.reduce(logs), over_looks(np.where(is_held_against, failed, 0.0)),
        over_looks(np.where(is_held_against, all_failed * exposure / in_all, 0.0)),
    )  # fmt: skip


class _Series:
    """Exposure and failures of many series, added up from the first look of each to its last."""

    def __init__(self, first: np.ndarray, last: np.ndarray, of: np.ndarray, look: np.ndarray, rows: pd.DataFrame) -> None:
        length = last - first + 1
        self.start = np.cumsum(length) - length
        self.of = np.repeat(np.arange(len(first)), length)
        self.look = np.arange(len(self.of)) - np.repeat(self.start - first, length)
        place = self.start[of] + look - first[of]
        self.at_risk, self.failures = (self._added(rows[name].to_numpy(), place) for name in ("at_risk", "failures"))

    def _added(self, values: np.ndarray, place: np.ndarray) -> np.ndarray:
        total = np.bincount(place, values, minlength=len(self.of)).cumsum()
        before = np.concatenate([[0.0], total])[self.start]
        return total - before[self.of]


def _told(counts: pd.DataFrame, batches: int, looks: int) -> pd.DataFrame:
    """Return the rows of cells in which something failed, in the order of cell, batch and look, with cells numbered anew."""
    cell = pd.factorize(counts["cell"])[0]
    has_failed = np.bincount(cell, counts["failures"].to_numpy()) > 0
    cell = np.where(has_failed, np.cumsum(has_failed) - 1, -1)[cell]
    place = (cell * batches + counts["batch"].to_numpy()) * looks + counts["look"].to_numpy()
    order = np.argsort(place, kind="stable")
    order = order[cell[order] >= 0]
    return counts[["batch", "look", "at_risk", "failures"]].iloc[order].assign(cell=cell[order])


def _ends(cell: np.ndarray, look: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the first and last look of each cell; cells sorted."""
    starts = np.flatnonzero(np.diff(cell, prepend=-1))
    return np.minimum.reduceat(look, starts), np.maximum.reduceat(look, starts)
