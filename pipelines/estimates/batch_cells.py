"""Failures and exposure of batches by stratum and step of age, from counts of their spells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns

#: Of more rows (strata, batches and age steps with exposure) so many steps of age make one where fine ones would tell no more.
MANY_ROWS, TOGETHER = 200_000, 4


@dataclass(frozen=True)
class Cells:
    """Failures and exposure by pair of stratum and batch, (pairs, steps); stratum, batch: numbers of each pair, in their order.

    Exposure is the time watched, failed modules counted to the end of their step: what was at risk must not depend on who failed,
    else in cells of a few modules the one that failed would seem to have been at risk for less (as a life table has it).
    """

    stratum: np.ndarray
    batch: np.ndarray
    failures: np.ndarray
    exposure: np.ndarray
    batch_count: int

    @classmethod
    def of(cls, counts: pd.DataFrame, steps: np.ndarray, batch_count: int) -> Cells:
        """Gather counts: stratum_no, batch_no, step, is_entry, spell_count, age_sum, failure_count. steps: ends of the age steps.

        age_sum: of the spells that did not fail, and of entries. Raises InputError on missing columns or negative exposure.
        """
        require_columns(counts, ["stratum_no", "batch_no", "step", "is_entry", "spell_count", "age_sum", "failure_count"])
        key = counts["stratum_no"].to_numpy(np.int64) * batch_count + counts["batch_no"].to_numpy(np.int64)
        is_there = np.bincount(key) > 0
        keys, pair = np.flatnonzero(is_there), (np.cumsum(is_there) - 1)[key]
        step = counts["step"].to_numpy(np.int64)
        width = np.diff(steps)
        where = pair * len(width) + step
        sign = np.where(counts["is_entry"].to_numpy(bool), -1.0, 1.0)
        spells, ages, failed = (sign * counts[name].to_numpy(float) for name in ("spell_count", "age_sum", "failure_count"))

        def summed(column: np.ndarray) -> np.ndarray:
            return np.bincount(where, column, len(keys) * len(width)).reshape(len(keys), len(width))

        failures, ended = summed(failed), summed(spells)
        exposure = summed(ages + failed * steps[step + 1] - spells * steps[step])
        # whoever ended in a later step was watched through this one
        beyond = ended.sum(axis=1)[:, None] - np.cumsum(ended, axis=1)
        beyond *= width
        exposure += beyond
        require(exposure > -1e-6 * max(float(steps[-1]), 1.0), "A spell ends before it begins", "Give ages of entry before exit.")
        return cls(keys // batch_count, keys % batch_count, failures, np.maximum(exposure, 0.0), batch_count)

    def fewer_steps(self) -> Cells:
        """Return the cells, of very many with TOGETHER steps of age as one: large cells lose next to nothing by that."""
        if np.count_nonzero(self.exposure) <= MANY_ROWS:
            return self
        starts = np.arange(0, self.exposure.shape[1], TOGETHER)
        failures, exposure = (np.add.reduceat(values, starts, axis=1) for values in (self.failures, self.exposure))
        return replace(self, failures=failures, exposure=exposure)

    @cached_property
    def watched(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Batch, cell (numbered), exposure and failures of each pair and step with exposure, in cells where something failed."""
        steps = self.failures.shape[1]
        row, step = np.nonzero(self.exposure > 0)
        cell = self.stratum[row] * steps + step
        failures = self.failures[row, step]
        kept = (np.bincount(cell, failures) > 0)[cell]
        row, step = row[kept], step[kept]
        return self.batch[row], cell[kept], self.exposure[row, step], failures[kept]
