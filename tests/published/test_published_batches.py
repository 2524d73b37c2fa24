"""Batches at equal age against published log-rank tests; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.equal_age import matched
from tests.estimates.cells import cells_of
from tests.published.cases import load_case, rows_of


def every_time(case_id: str) -> tuple[Cells, list[str]]:
    """Return the case in steps of one unit of time, so that each holds one failure time, as the log-rank test has it."""
    case = load_case(case_id)
    rows, data = rows_of(case), case.data
    names = sorted(rows[data["group"]].unique())
    strata = rows[data["strata"]] if "strata" in data else pd.Series(0, index=rows.index)
    frame = pd.DataFrame({
        "stratum_no": pd.factorize(strata)[0], "batch_no": rows[data["group"]].map(names.index), "entry": 0.0,
        "at": rows[data["time"]].astype(float), "is_failure": rows[data["event"]] == 1,
    })  # fmt: skip
    return cells_of(frame, np.arange(rows[data["time"]].max() + 1.0)), names


@pytest.mark.parametrize("case_id", ["lr_6mp", "slr_leukemia_rx_by_lwbc", "slr_rats_rx_by_litter"])
def test_observed_and_expected_are_those_of_the_log_rank_test(case_id):
    case = load_case(case_id)
    cells, names = every_time(case_id)
    assert [f"{case.data['group']}={name}" for name in names] == case.expected["groups"]
    found = matched(cells, np.ones(len(names), dtype=bool))
    assert found.expected - found.observed == pytest.approx(
        np.subtract(case.expected["expected"], case.expected["observed"]), rel=case.rel_tol
    )
    assert found.of_failures.tolist() == case.expected["observed"]
