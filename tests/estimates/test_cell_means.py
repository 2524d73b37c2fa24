"""Means of families by fate that borrow: against closed forms, simulation, and themselves rescaled."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.cell_means import LEAST_SPREAD, UNKNOWN_SPREAD, cell_means
from pipelines.estimates.lot_fate import FATES
from pipelines.vocabulary import Because

COLUMNS = ["family", "fate", "n", "mean", "sd"]


def rows(*cells: tuple) -> pd.DataFrame:
    return pd.DataFrame(list(cells), columns=COLUMNS)


def simulated(rng: np.random.Generator, families: int = 12) -> tuple[pd.DataFrame, np.ndarray]:
    """Return counts of a table of families that differ, cells that differ beyond, and units that differ; and its true means."""
    family = np.exp(0.25 * rng.standard_normal(families))[:, None]
    true = family * np.array([0.2, 0.5, 0.8, 0.5]) * np.exp(0.1 * rng.standard_normal((families, 4)))
    cells = []
    for place in range(families):
        for fate, mean in zip(FATES, true[place], strict=True):
            count = int(rng.integers(0, 30))
            if count:
                units = mean * rng.gamma(6, 1 / 6, count)
                sd = units.std(ddof=1) if count > 1 else None
                cells.append((f"F{place:02d}", fate.value, count, units.mean(), sd))
    return rows(*cells), true


def test_borrowing_comes_closer_than_own_means_and_than_margins_and_its_limits_hold():
    rng = np.random.default_rng(8)
    off, own_off, held, spread = [], [], [], []
    for _ in range(60):
        table, true = simulated(rng)
        found = cell_means(table, [f"F{place:02d}" for place in range(12)])
        own = np.full((12, 4), np.nan)
        own[[int(name[1:]) for name in table["family"]], [FATES.index(fate) for fate in table["fate"]]] = table["mean"]
        seen = ~np.isnan(own)
        off.append(((found.mean / true - 1)[seen] ** 2).mean())
        own_off.append(((own / true - 1)[seen] ** 2).mean())
        held.append((np.abs(found.mean - true) < 1.645 * found.mean_se).mean())
        spread.append((found.unit_sd / true)[seen].mean())
    assert np.mean(off) < 0.7 * np.mean(own_off)
    assert 0.85 < np.mean(held) < 0.95
    assert np.mean(spread) == pytest.approx(1 / np.sqrt(6), abs=0.02)


def test_a_family_never_seen_is_told_by_the_others_as_widely_as_families_differ():
    rng = np.random.default_rng(9)
    held = []
    for _ in range(200):
        table, true = simulated(rng)
        last = table["family"] == "F11"
        found = cell_means(table[~last], ["F11"])
        held.append(np.abs(np.log(found.mean[0] / true[11])) < 1.645 * found.mean_se[0] / found.mean[0])
    assert 0.85 < np.mean(held) < 0.95


def test_one_family_alone_has_its_own_means():
    table = rows(("A", "works", 1000, 0.2, 0.05), ("A", "cleaned", 1000, 0.5, 0.1))
    found = cell_means(table, ["A"])
    assert found.mean[0, :2] == pytest.approx([0.2, 0.5])
    assert found.unit_sd[0, :2] == pytest.approx([0.05, 0.1], rel=0.02)


def test_margins_of_a_table_without_interaction_are_its_cells():
    table = rows(*((f"F{i}", fate.value, 5 + i, (1 + i) * (1 + j), 0.0) for i in range(4) for j, fate in enumerate(FATES)))
    found = cell_means(table, ["F0", "F3"])
    assert found.mean == pytest.approx(np.outer([1, 4], [1, 2, 3, 4]), rel=1e-6)


def test_cells_shrink_by_the_credibility_weight():
    """Two families alike but for less than the least spread, one fate: weight n / (n + K), K = (within / between)² = 36."""
    found = cell_means(rows(("A", "works", 10, 10.0, 3.0), ("B", "works", 10, 10.2, 3.06)), ["A", "B"])
    # the margins of one fate are its cells: the spread of cells is not known, that of families is the least
    cell = 10 * UNKNOWN_SPREAD**2 / (10 * UNKNOWN_SPREAD**2 + 0.3**2)
    off = 0.3**2 / 10 + UNKNOWN_SPREAD**2
    family = LEAST_SPREAD**2 / (LEAST_SPREAD**2 + off)
    assert found.mean[0, 0] == pytest.approx(cell * 10 + (1 - cell) * (10.1 - family * 0.1), rel=1e-6)


def test_rows_in_another_order_and_in_another_unit_give_the_same():
    table, _ = simulated(np.random.default_rng(3))
    names = ["F03", "F00", "new"]
    first, shuffled = cell_means(table, names), cell_means(table.sample(frac=1, random_state=1), names)
    cents = cell_means(table.assign(mean=table["mean"] * 100, sd=table["sd"] * 100), names)
    for part in ("mean", "mean_se", "unit_sd"):
        assert getattr(shuffled, part) == pytest.approx(getattr(first, part))
        assert getattr(cents, part) == pytest.approx(100 * getattr(first, part))


@pytest.mark.parametrize(
    "table",
    [
        rows(("A", "works", 1, 0.2, None)),
        rows(("A", "works", 1, 0.0, None)),
        rows(("A", "works", 3, 0.0, 0.0), ("A", "cleaned", 2, 0.0, 0.0)),
        rows(("A", "works", 0, None, None), ("B", "scrap", 5, 2.0, 0.0)),
        rows(*((f"F{place}", "works", 1, 1.0, None) for place in range(1000))),
    ],
)
def test_thin_records_give_numbers_that_are_some(table):
    found = cell_means(table, ["A", "new"])
    for part in (found.mean, found.mean_se, found.unit_sd):
        assert part.shape == (2, 4)
        assert (np.isfinite(part) & (part >= 0)).all()


def test_one_unit_leaves_as_wide_an_error_as_is_assumed():
    found = cell_means(rows(("A", "works", 1, 10.0, None)), ["A"])
    assert found.unit_sd[0, 0] == pytest.approx(10 * UNKNOWN_SPREAD)
    assert found.mean_se[0, 0] > 0.5 * 10 * UNKNOWN_SPREAD


@pytest.mark.parametrize("table", [rows(), rows(("A", "works", 0, None, None))])
def test_without_units_nothing_is_told(table):
    assert cell_means(table, ["A"]) is Because.NO_PAST_LOTS


@pytest.mark.parametrize("cell", [("A", "works", -1, 1.0, None), ("A", "works", 2, -1.0, None), ("A", "works", 2, None, None)])
def test_broken_counts_are_refused(cell):
    with pytest.raises(InputError):
        cell_means(rows(cell), ["A"])
