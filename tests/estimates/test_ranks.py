"""Ranks from draws: against ranks counted by hand and by scipy, and when no one may be called the best."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.pooled_share import pooled_share
from pipelines.estimates.ranks import Rank, ranks
from pipelines.vocabulary import Because


def spread(*middles: float, width: float = 1.0) -> list[Estimate]:
    return [Estimate(one, one - width, one + width) for one in middles]


def test_ranks_counted_by_hand():
    draws = np.array([[3.0, 2.0, 1.0], [3.0, 1.0, 2.0], [2.0, 3.0, 1.0], [3.0, 2.0, 1.0]])
    found = ranks(draws, estimates=spread(3, 2, 1), sizes=[9, 9, 9], level=0.5)
    assert found.groups == [Rank(1, 1, 1, 0.75), Rank(2, 1, 2, 0.25), Rank(3, 2, 3, 0.0)]


def test_ranks_are_those_of_scipy_with_equals_sharing_the_better_one():
    from scipy.stats import rankdata

    draws = np.random.default_rng(1).integers(0, 6, (501, 7)).astype(float)
    found = ranks(draws, estimates=spread(*range(7)), sizes=[9] * 7, level=0.9)
    theirs = rankdata(-draws, method="min", axis=1)
    limits = np.quantile(theirs, [0.05, 0.95], axis=0, method="inverted_cdf")
    assert [(one.low, one.high) for one in found.groups] == list(zip(*limits, strict=True))
    assert [one.rank for one in found.groups] == np.median(theirs, axis=0).tolist()
    assert sum(one.best_chance for one in found.groups) == pytest.approx(1)


def test_the_chance_of_two_normals_is_that_of_their_difference():
    from scipy.stats import norm

    draws = np.random.default_rng(2).normal([0.5, 0.0], 1.0, (40_000, 2))
    found = ranks(draws, estimates=spread(0.5, 0), sizes=[9, 9])
    assert found.groups[0].best_chance == pytest.approx(norm.cdf(0.5 / np.sqrt(2)), abs=0.01)


def test_permuted_groups_have_permuted_ranks():
    draws = np.random.default_rng(3).normal([3, 2, 1, 0], 1.0, (999, 4))
    order = [2, 0, 3, 1]
    plain = ranks(draws, estimates=spread(3, 2, 1, 0), sizes=[9] * 4).groups
    turned = ranks(draws[:, order], estimates=spread(1, 3, 0, 2), sizes=[9] * 4).groups
    assert turned == [plain[one] for one in order]


def test_a_best_group_needs_attempts_of_its_own_and_limits_above_all_others():
    draws = np.random.default_rng(4).normal([9, 2, 1], 0.3, (400, 3))
    assert ranks(draws, estimates=spread(9, 2, 1), sizes=[8, 1, 1]).best == 0
    assert ranks(draws, estimates=spread(9, 2, 1), sizes=[7.9, 90, 90]).best is None
    # At a width of 3.5 the limits of the first two touch.
    widths = {3.25: 0, 3.5: None, 4: None}
    assert {one: ranks(draws, estimates=spread(9, 2, 1, width=one), sizes=[90, 90, 90]).best for one in widths} == widths
    assert ranks(draws, estimates=[*spread(9, 2), Estimate(1, 0, None)], sizes=[90, 90, 90]).best is None
    assert ranks(draws[:, :1], estimates=spread(9), sizes=[90]).best is None


def test_a_refused_group_takes_no_part():
    draws = np.random.default_rng(5).normal([9, 2, 1], 0.3, (400, 3))
    found = ranks(draws, estimates=[Estimate.refused(Because.NO_ATTEMPTS), *spread(2, 1)], sizes=[0, 9, 9])
    assert found.groups[0] == Rank(None, None, None, None)
    assert found.groups[1].rank == 1
    assert ranks(draws[:, :0], estimates=[], sizes=[]).groups == []
    assert ranks(draws[:0], estimates=spread(9, 2, 1), sizes=[9, 9, 9]).best is None


def test_true_ranks_lie_within_their_limits_and_a_false_best_is_rare():
    rng = np.random.default_rng(6)
    inside, called, wrong = [], 0, 0
    for _ in range(60):
        p = 1 / (1 + np.exp(-rng.normal(0.8, 0.6, 8)))
        n = rng.integers(5, 120, 8)
        cells = pd.DataFrame({"method": None, "family": range(8), "k": rng.binomial(n, p), "n": n})
        pooled = pooled_share(cells)
        found = ranks(pooled.draws(), estimates=[one.share for one in pooled.cells], sizes=n)
        truth = (-p).argsort().argsort() + 1
        inside += [one.low <= rank <= one.high for one, rank in zip(found.groups, truth, strict=True)]
        called += found.best is not None
        wrong += found.best is not None and p[found.best] < p.max()
    assert np.mean(inside) >= 0.93
    assert wrong <= 0.05 * max(called, 20)


@pytest.mark.parametrize(
    ("draws", "says"),
    [(np.ones((3, 2)), "not of the same groups"), (np.ones(3), "not of the same"), (np.full((3, 1), np.nan), "no numbers")],
)
def test_draws_that_do_not_belong_are_refused(draws, says):
    with pytest.raises(InputError, match=says):
        ranks(draws, estimates=spread(1), sizes=[9])
