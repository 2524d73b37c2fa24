"""Grids laid again where the weight lies: against sums known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.grid import drawn_nodes, margin, narrowed, shares


def test_a_narrowed_grid_holds_the_weight_and_stays_within_the_old_one():
    nodes = np.linspace(-50, 50, 41)
    new = narrowed(nodes, -((nodes - 3) ** 2) / 2, count=21)
    assert (new[0], new[-1]) == (-2.5, 10.0)
    assert np.allclose(np.diff(new), new[1] - new[0])
    assert narrowed(nodes, nodes, count=5)[-1] == 50


def test_weights_summed_over_the_other_axis_are_the_margin_of_a_product():
    one, other = np.array([0.2, 0.8]), np.array([0.5, 0.3, 0.2])
    table = np.log(np.outer(one, other)) + 700
    assert np.exp(margin(table, 0) - 700) == pytest.approx(one)
    assert np.exp(margin(table, 1) - 700) == pytest.approx(other)
    assert shares(table).sum() == pytest.approx(1)


def test_each_node_is_drawn_as_often_as_its_share_says():
    weight = np.array([0.1, 0.0, 0.6, 0.3])
    assert np.bincount(drawn_nodes(weight, 1000), minlength=4).tolist() == [100, 0, 600, 300]
