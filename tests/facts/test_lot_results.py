"""What came of lots by SQL, against a plain loop over the units on nasty logs."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

import pandas as pd
import pytest

from pipelines.facts.lots import GIVEN_UP_AFTER_DAYS
from tests.facts.nasty import nasty_settings
from tests.facts.test_lots import standing

SUMS = (
    "unit_count", "sold_count", "priced_count", "sale_income", "timed_count", "bench_h", "costed_count", "spent",
    "returned_count", "warranty_left",
)  # fmt: skip


def by_loop(units: list[dict], end: dt.date, quiet_lag_days: int) -> dict[tuple, list[float]]:
    """Return the sums of each lot, family, fate and whether it is settled."""
    found: dict[tuple, list[float]] = defaultdict(lambda: [0.0] * len(SUMS))
    cut = end - dt.timedelta(days=quiet_lag_days)
    for unit in units:
        since = unit["finished_on"] or unit["intake_on"]
        is_old = since <= end - dt.timedelta(days=GIVEN_UP_AFTER_DAYS)
        is_settled = unit["sold_on"] is not None or unit["fate"] == "scrap" or is_old
        fate = "scrap" if unit["fate"] == "open" and is_settled else unit["fate"]
        back, left = False, 0.0
        if unit["sold_on"] is not None and unit["warranty_days"] is not None:
            until = unit["sold_on"] + dt.timedelta(days=int(unit["warranty_days"]))
            back = unit["returned_on"] is not None and unit["returned_on"] <= min(until, cut)
            if not back and unit["warranty_days"] > 0:
                left = min(max((until - cut).days, 0) / unit["warranty_days"], 1.0)
        minutes, parts, supplies = unit["bench_minutes"], unit["parts_cost"], unit["consumables_cost"]
        is_costed = parts is not None and supplies is not None
        row = (1, unit["sold_on"] is not None, unit["price"] is not None, unit["price"] or 0, minutes is not None,
               (minutes or 0) / 60, is_costed, parts + supplies if is_costed else 0, back, left)  # fmt: skip
        key = (unit["lot_id"], unit["family"], fate, is_settled)
        found[key] = [a + float(b) for a, b in zip(found[key], row, strict=True)]
    return found


def plain(units: list[dict]) -> list[dict]:
    return [{name: None if value is None or pd.isna(value) else value for name, value in unit.items()} for unit in units]


@pytest.mark.parametrize("seed", range(16))
def test_results_by_sql_and_by_plain_loop_agree(seed):
    lots, units, end = standing(seed)
    expected = by_loop(plain(units), end, nasty_settings(seed).quiet_lag_days)
    found = {tuple(row[:4]): row[4:] for row in lots.results().itertuples(index=False, name=None)}
    assert found.keys() == expected.keys()
    for key, sums in expected.items():
        assert list(found[key]) == pytest.approx(sums), key


def test_the_nasty_logs_hold_what_is_settled_given_up_and_waiting():
    rows = pd.concat([standing(seed)[0].results() for seed in range(16)])
    assert rows.loc[~rows["is_settled"], "unit_count"].sum() > 30
    unsold = rows[rows["is_settled"] & rows["fate"].isin(["works", "cleaned", "new_part"])]
    assert (unsold["unit_count"] - unsold["sold_count"]).sum() > 10
    assert rows["returned_count"].sum() > 20
    assert rows["warranty_left"].sum() > 1
