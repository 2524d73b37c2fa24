"""A part of a log too large for a slow estimate: all rows of controllers drawn at random, always the same ones."""

from __future__ import annotations

import numpy as np
import pandas as pd

SEED = 20


def sampled(rows: pd.DataFrame, *, most: int) -> pd.DataFrame:
    """Return the rows, or those of whole controllers (`cluster`) drawn until they would be more than `most`."""
    if len(rows) <= most:
        return rows
    size = rows.groupby("cluster").size()
    order = np.random.default_rng(SEED).permutation(len(size))
    is_in = np.cumsum(size.to_numpy()[order]) <= most
    return rows[rows["cluster"].isin(size.index[order[is_in]])]
