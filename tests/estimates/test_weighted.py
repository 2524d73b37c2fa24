"""Draws with weights: whole-number weights are the draws repeated."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipelines.estimates.weighted import mean, quantile


@example(rows=[(0, 1), (1, 0)], share=1.0)
@given(
    st.lists(st.tuples(st.integers(-5, 5), st.integers(0, 3)), min_size=1, max_size=30).filter(
        lambda rows: any(w for _, w in rows)
    ),
    st.floats(0, 1),
)
def test_whole_weights_are_draws_repeated(rows, share):
    values, weights = np.array(rows, dtype=float).T
    repeated = np.repeat(values, weights.astype(int))
    assert mean(values, weights=weights) == pytest.approx(repeated.mean())
    assert quantile(values, share, weights=weights) == quantile(repeated, share)


@given(st.lists(st.integers(-5, 5), min_size=1, max_size=40), st.floats(0, 1))
def test_at_most_the_share_lies_below_the_quantile_and_more_below_the_next_value(values, share):
    draws = np.array(values, dtype=float)
    found = quantile(draws, share)
    assert (draws < found).mean() <= share + 1e-9
    higher = draws[draws > found]
    assert not len(higher) or (draws < higher.min()).mean() > share - 1e-9


def test_columns_are_taken_one_by_one():
    draws = np.random.default_rng(1).normal(size=(500, 3))
    weights = np.random.default_rng(2).random(500)
    one_by_one = [quantile(column, 0.1, weights=weights) for column in draws.T]
    assert quantile(draws, 0.1, weights=weights) == pytest.approx(one_by_one)
    assert quantile(draws, 0.1) == pytest.approx(np.quantile(draws, 0.1, axis=0, method="higher"), abs=0.05)
