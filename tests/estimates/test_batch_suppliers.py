"""Suppliers and their batches in simulated fleets of known truth, and what cannot be compared."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates import batch_cells
from pipelines.estimates.batch_suppliers import supplier_ratios
from pipelines.vocabulary import Because
from tests.estimates.cells import cells_of, made_spells, steps_of

NAMES = ["Aldermoor", "Tarnside", "Wexcombe"]


def made(seed: int, *, effects: tuple[float, ...], spread: float, batches: int = 24, modules: int = 3000):
    rng = np.random.default_rng(seed)
    log_ratio = np.array([effects[batch % 3] for batch in range(batches)]) + rng.normal(0, spread, batches)
    spells = made_spells(rng, batches=batches, modules=modules, ratios=np.exp(log_ratio))
    return cells_of(spells, steps_of(spells)), [NAMES[batch % 3] for batch in range(batches)], log_ratio


def test_limits_of_suppliers_batches_and_spread_hold_the_truth():
    effects, spread = (0.3, 0.0, -0.2), 0.25
    suppliers, batches, spreads = [], [], []
    for seed in range(40):
        cells, names, log_ratio = made(seed, effects=effects, spread=spread)
        found = supplier_ratios(cells, names, 1.0)
        for one in found.suppliers:
            place = NAMES.index(one.supplier)
            others = [effects[other] for other in range(3) if other != place]
            suppliers.append(one.ratio.low <= np.exp(effects[place] - np.mean(others)) <= one.ratio.high)
        true = np.exp(log_ratio - log_ratio.mean())
        batches += [one.low <= ratio <= one.high for one, ratio in zip(found.shrunk, true, strict=True)]
        spreads.append(found.spread.low <= spread <= found.spread.high)
    assert np.mean(suppliers) > 0.9
    assert np.mean(batches) > 0.91
    assert np.mean(spreads) > 0.9


def test_a_batch_borrows_from_its_supplier_and_ranks_from_the_worst():
    cells, names, _ = made(3, effects=(0.6, 0.0, 0.0), spread=0.05)
    found = supplier_ratios(cells, names, 1.0)
    worst = max(found.suppliers, key=lambda one: one.ratio.estimate)
    assert (worst.supplier, worst.batch_count) == ("Aldermoor", 8)
    assert worst.ratio.low > 1
    best = [rank.low for rank, name in zip(found.ranks, names, strict=True) if name == "Aldermoor"]
    rest = [rank.low for rank, name in zip(found.ranks, names, strict=True) if name != "Aldermoor"]
    assert np.mean(best) < np.mean(rest)
    # batches of one supplier lie nearer to each other than their failures alone would put them
    shrunk = np.log([one.estimate for one in found.shrunk])
    assert np.std(shrunk[::3]) < 0.25


def test_shared_controllers_widen_the_limits():
    cells, names, _ = made(5, effects=(0.0, 0.0, 0.0), spread=0.1)
    plain, wide = (supplier_ratios(cells, names, alike).suppliers[0].ratio for alike in (1.0, 3.0))
    assert np.log(wide.high / wide.low) > 1.2 * np.log(plain.high / plain.low)


def test_limits_at_another_level_are_those_of_a_fit_asked_for_it():
    cells, names, _ = made(4, effects=(0.3, 0.0, 0.0), spread=0.1, batches=12, modules=1200)
    usual, wide = (supplier_ratios(cells, names, 1.0, level=level).suppliers for level in (0.95, 0.99))
    assert [one.ratio_at(0.99) for one in usual] == [one.ratio for one in wide]


def test_very_many_rows_are_put_together_and_tell_the_same(monkeypatch):
    cells, names, _ = made(7, effects=(0.4, 0.0, 0.0), spread=0.1, modules=6000)
    fine = supplier_ratios(cells, names, 1.0)
    monkeypatch.setattr(batch_cells, "MANY_ROWS", 100)
    coarse = supplier_ratios(cells, names, 1.0)
    for one, other in zip(fine.suppliers, coarse.suppliers, strict=True):
        assert np.log(one.ratio.estimate) == pytest.approx(np.log(other.ratio.estimate), abs=0.03)
        assert np.log(one.ratio.high / one.ratio.low) == pytest.approx(np.log(other.ratio.high / other.ratio.low), rel=0.1)


def test_one_supplier_or_none_beside_another_is_refused_and_unknown_ones_are_left_out():
    cells, names, _ = made(6, effects=(0.0, 0.0, 0.0), spread=0.1, batches=6, modules=600)
    assert supplier_ratios(cells, ["Aldermoor"] * 6, 1.0).because is Because.ONE_SUPPLIER
    assert supplier_ratios(cells, ["Aldermoor", *[None] * 5], 1.0).because is Because.ONE_SUPPLIER
    assert supplier_ratios(cells, [None] * 6, 1.0).because is Because.ONE_SUPPLIER
    found = supplier_ratios(cells, [None, *names[1:]], 1.0)
    assert (found.shrunk[0], found.ranks[0]) == (None, None)
    assert found.shrunk[1].estimate == pytest.approx(1, abs=0.5)
