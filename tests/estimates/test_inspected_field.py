"""Inspection against the field: the fit against a plain search, limits where the truth is known, dilution, and refusals."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.inspected_field import LEAST_BATCHES, field_trend, real_share
from pipelines.vocabulary import Because


def made(rng, *, batches=24, slope=0.1, spread=0.0, size=32):
    """Return a fleet whose true shares go with its faults: log ratio `slope` for each point, a batch factor of SD `spread`."""
    true = rng.uniform(0, 0.12, batches)
    bad = rng.binomial(size, true)
    expected = rng.uniform(5, 40, batches)
    factor = np.exp(slope * 100 * true + spread * rng.standard_normal(batches))
    return bad, np.full(batches, size), rng.poisson(expected * factor), expected


def test_the_trend_is_that_of_the_greatest_likelihood():
    from scipy.optimize import minimize

    bad, tested, failures, expected = made(np.random.default_rng(2))
    shares = bad / tested * 100

    def lost(beta):
        eta = np.log(expected) + beta[0] + beta[1] * shares
        return np.exp(eta).sum() - (failures * eta).sum()

    best = minimize(lost, [0.0, 0.0], method="BFGS", options={"gtol": 1e-9})
    found = field_trend(bad, tested, failures, expected, level=0.95)
    assert np.log(found.ratio.estimate) == pytest.approx(best.x[1], rel=1e-5)
    mean = expected * np.exp(best.x[0] + best.x[1] * shares)
    pearson = max(((failures - mean) ** 2 / mean).sum() / 22, 1)
    assert found.dispersion == pytest.approx(pearson, rel=1e-4)


@pytest.mark.parametrize("spread", [0.0, 0.4])
def test_where_inspection_tells_nothing_the_limits_hold_one(spread):
    """Of nominal 95 %, 400 made fleets, also where batches differ for other reasons. The dispersion is never under 1, so where
    nothing else differs the limits hold a little more often than they say."""
    rng = np.random.default_rng(6)
    held = [
        (found := field_trend(*made(rng, slope=0.0, spread=spread), level=0.95)).ratio.low <= 1 <= found.ratio.high
        for _ in range(400)
    ]
    assert 0.92 < np.mean(held) < 0.99


def test_a_small_sample_draws_the_trend_towards_none_and_the_correction_back():
    rng = np.random.default_rng(8)
    found = [field_trend(*made(rng, batches=80, slope=0.1), level=0.95) for _ in range(120)]
    plain = np.mean([np.log(one.ratio.estimate) for one in found])
    known = np.median([np.log(one.ratio_if_known) for one in found])
    assert 0.03 < plain < 0.085
    assert known == pytest.approx(0.1, rel=0.15)
    large = [field_trend(*made(rng, batches=80, slope=0.1, size=5000), level=0.95) for _ in range(40)]
    assert np.mean([np.log(one.ratio.estimate) for one in large]) == pytest.approx(0.1, rel=0.05)


def test_shares_that_differ_by_luck_alone_have_little_that_is_real():
    rng = np.random.default_rng(1)
    luck = [real_share(rng.binomial(32, 0.03, 30), np.full(30, 32)) for _ in range(200)]
    assert np.mean(luck) < 0.15
    assert real_share(np.array([0, 160, 320]), np.full(3, 3200)) > 0.95
    assert real_share(np.zeros(9), np.full(9, 32)) is None


@pytest.mark.parametrize(
    ("batches", "bad", "failures", "because"),
    [
        (LEAST_BATCHES - 1, [0, 1], 3, Because.TOO_FEW_BATCHES),
        (12, [1, 1], 3, Because.SHARES_ALIKE),
        (12, [0, 1], 0, Because.NO_FAILURES),
    ],
)
def test_what_cannot_be_told_says_why(batches, bad, failures, because):
    counts = np.resize(bad, batches)
    found = field_trend(counts, np.full(batches, 20), np.full(batches, failures), np.full(batches, 2.0), level=0.95)
    assert (found.because, found.ratio.estimate, found.batches) == (because, None, batches)


def test_a_trend_without_end_is_no_trend():
    failures = np.array([0] * 11 + [5])
    bad = np.array([0] * 11 + [3])
    assert field_trend(bad, np.full(12, 20), failures, np.full(12, 2.0), level=0.95).because is Because.FIT_FAILED


def test_more_bad_than_tested_is_refused():
    with pytest.raises(InputError, match="more bad than tested"):
        field_trend(np.full(9, 5), np.full(9, 4), np.ones(9), np.ones(9), level=0.95)
