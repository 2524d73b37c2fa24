"""The faults to be expected of some use if only family, site and the like mattered: a rate of each level, multiplied."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, squeezed

#: Rounds of the fit, and the change of a rate at which it rests.
ROUNDS, RESTED = 500, 1e-10


def expected_faults(
    counts: pd.DataFrame, exposure: np.ndarray, failures: np.ndarray, *, by: Sequence[str]
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Return the faults expected of each row, and the level of each row in each column of `by`, numbered through all columns.

    counts: the columns of `by`, a blank being a level of its own; without `by` all have one rate. exposure, failures: by row.
    Failures are Poisson with the product of a rate of each level, fitted by maximum likelihood: the sums expected of each level
    are those observed (indirect standardisation; iterative proportional fitting).
    Source: Breslow & Day (1987), Statistical Methods in Cancer Research II, ch. 2 and 4 (from memory).
    """
    codes, first = [], 0
    for column in by:
        one = group([counts], by=[column])
        codes.append(one.codes[0] + first)
        first += one.count
    level = np.column_stack(codes) if codes else np.zeros((len(counts), 1), dtype=np.int64)
    total = failures.sum() / exposure.sum() if exposure.sum() > 0 else 0.0
    # rows of one cell are fitted as one
    cell = np.zeros(len(counts), dtype=np.int64)
    for column in level.T:
        cell = cell * max(first, 1) + column
    _, cell = squeezed(cell)
    cells = int(cell.max()) + 1 if len(cell) else 0
    width = max(first, 1)
    level_of = np.zeros((cells, level.shape[1]), dtype=np.int64)
    level_of[cell] = level
    use, seen = np.bincount(cell, exposure, cells), np.bincount(cell, failures, cells)
    rate = np.full(cells, total)
    for _ in range(ROUNDS):
        before = rate
        for column in level_of.T:
            due = np.bincount(column, use * rate, width)
            change = np.divide(np.bincount(column, seen, width), due, out=np.zeros(width), where=due > 0)
            rate = rate * change[column]
        if np.allclose(rate, before, rtol=RESTED, atol=0):
            break
    return exposure * rate[cell], level
