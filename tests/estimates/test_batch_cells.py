"""Failures and exposure of batches against a plain loop over spells, and counts that cannot be."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.batch_cells import Cells
from tests.estimates.cells import cells_of, made_spells, steps_of


def test_exposure_is_that_of_a_plain_loop():
    spells = made_spells(np.random.default_rng(2), batches=3, modules=120, strata=2)
    steps = steps_of(spells, 9)
    cells = cells_of(spells, steps)
    wanted = np.zeros((2, 3, len(steps) - 1))
    failed = np.zeros_like(wanted)
    for row in spells.itertuples():
        for number, (low, high) in enumerate(pairwise(steps)):
            # one that fails counts to the end of its step
            end = high if row.is_failure and low < row.at <= high else min(max(row.at, low), high)
            wanted[row.stratum_no, row.batch_no, number] += end - min(max(row.entry, low), end)
            failed[row.stratum_no, row.batch_no, number] += row.is_failure and low < row.at <= high
    for pair, (stratum, batch) in enumerate(zip(cells.stratum, cells.batch, strict=True)):
        assert cells.exposure[pair] == pytest.approx(wanted[stratum, batch])
        assert cells.failures[pair] == pytest.approx(failed[stratum, batch])


def test_broken_counts_are_refused():
    row = {"stratum_no": [0], "batch_no": [0], "step": [0], "is_entry": [True], "spell_count": [1], "age_sum": [3.0]}
    with pytest.raises(InputError, match="failure_count"):
        Cells.of(pd.DataFrame(row), np.array([0.0, 9.0]), 1)
    with pytest.raises(InputError, match="ends before"):
        Cells.of(pd.DataFrame({**row, "failure_count": [0]}), np.array([0.0, 9.0]), 1)
