"""Factors of sites and controllers: shrunk by what they tell, drawn with honest width, right on the average."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.gamma_factors import gamma_factors

COUNT = 4000


def drawn(observed, expected) -> np.ndarray:
    return gamma_factors(np.array(observed), np.array(expected), count=COUNT, rng=np.random.default_rng(3))


def test_one_cluster_or_none_tells_nothing():
    assert (drawn([9], [3]) == 1).all()
    assert drawn([], []).shape == (COUNT, 0)
    assert (drawn([5, 0], [3, 0]) == 1).all()


def test_much_evidence_gives_the_ratio_and_little_stays_near_one():
    mean = drawn([400, 100, 2, 0], [200, 200, 1, 0]).mean(axis=0)
    assert mean[0] == pytest.approx(2.0, rel=0.03)
    assert mean[1] == pytest.approx(0.5, rel=0.05)
    assert 1.0 < mean[2] < 1.6
    assert mean[3] == pytest.approx(1.0, abs=0.1)


def test_clusters_alike_have_factors_near_one():
    rng = np.random.default_rng(8)
    factor = drawn(rng.poisson(50, 200), np.full(200, 50.0))
    assert factor.mean(axis=0).std() < 0.06
    assert factor.mean() == pytest.approx(1.0, abs=0.01)


def test_limits_hold_the_true_factor_as_often_as_they_say():
    rng = np.random.default_rng(11)
    true = rng.gamma(4, 0.25, 3000)
    due = rng.uniform(0.2, 8, 3000)
    factor = gamma_factors(rng.poisson(true * due), due, count=500, rng=rng)
    low, high = np.quantile(factor, [0.05, 0.95], axis=0)
    assert np.mean((low <= true) & (true <= high)) == pytest.approx(0.9, abs=0.015)


def test_the_order_of_clusters_does_not_matter():
    means = [drawn(*one).mean(axis=0) for one in (([30, 5, 9], [10, 10, 10]), ([9, 30, 5], [10, 10, 10]))]
    assert means[0][[2, 0, 1]] == pytest.approx(means[1], rel=0.03)


@pytest.mark.parametrize("bad", [[-1, 2], [np.nan, 2], [np.inf, 2]])
def test_counts_that_are_none_are_refused(bad):
    with pytest.raises(InputError):
        drawn(bad, [1, 2])
    with pytest.raises(InputError):
        drawn([1, 2], bad)
