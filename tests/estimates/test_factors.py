"""Factors as columns: which level is the reference, and what is pooled."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.factors import OTHER, design
from tests.estimates.spells import table


def columns_of(rows, **options):
    found = design(
        rows, rows["spell_count"].to_numpy(), rows["is_failure"].to_numpy(), factors=["family"], **{"min_failures": 3, **options}
    )
    return found, [(one.level, one.column, one.is_reference) for one in found.levels]


def test_the_level_with_the_most_spells_is_the_reference_and_the_rest_are_columns():
    rows = table("family is_failure spell_count\nA True 3\nB True 3\nB False 9\nC True 4\nA True 1")
    found, levels = columns_of(rows)
    assert levels == [("A", 0, False), ("B", None, True), ("C", 1, False)]
    assert found.x.tolist() == [[1, 0], [0, 0], [0, 0], [0, 1], [1, 0]]
    assert found.factors_of(np.array([0, 1])) == ("family",)


def test_two_rare_levels_are_pooled_and_the_pool_is_never_the_reference():
    rows = table("family is_failure spell_count\nA True 3\nB True 2\nB False 90\nC True 2")
    found, levels = columns_of(rows)
    assert levels == [("A", None, True), (OTHER, 0, False)]
    assert found.levels[1].pooled == ("B", "C")
    assert (found.levels[1].spell_count, found.levels[1].failure_count) == (94, 4)


def test_one_rare_level_keeps_its_name():
    found, levels = columns_of(table("family is_failure spell_count\nA True 3\nB True 2"))
    assert levels == [("A", None, True), ("B", 0, False)]
    assert found.levels[1].pooled == ()


def test_a_level_without_failures_has_no_column_and_its_rows_are_not_used():
    found, levels = columns_of(table("family is_failure spell_count\nA True 3\nB False 2\nC True 3"))
    assert levels == [("A", None, True), ("C", 0, False), ("B", None, False)]
    assert found.is_used.tolist() == [True, False, True]


@pytest.mark.parametrize("rows", ["A True 3\nB False 2", "A True 3", "A True 1\nB True 1", "A False 3"])
def test_a_factor_with_one_level_left_is_named(rows):
    found, _ = columns_of(table(f"family is_failure spell_count\n{rows}"))
    assert found.one_level == ("family",)
    assert found.x.shape[1] == 0
