"""How far luck goes together: against the integral over all luck, and on made lots."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from pipelines.estimates.lot_luck import CORRELATIONS, PRIOR, LotLuck, shared_luck


def made(rng: np.random.Generator, correlation: float, *, lots: int, error_sd: float = 0.5) -> list[LotLuck]:
    """Return three stages' posteriors of luck, each seen with an error."""
    together = np.full((3, 3), correlation) + (1 - correlation) * np.eye(3)
    seen = rng.multivariate_normal(np.zeros(3), together, lots) + rng.normal(0, error_sd, (lots, 3))
    known = 1 / (1 + error_sd**2)
    return [LotLuck(np.arange(lots), known * one, np.full(lots, 1 - known)) for one in seen.T]


def test_the_weights_are_those_of_what_was_seen():
    found = shared_luck(made(np.random.default_rng(1), 0.6, lots=25))
    seen = np.stack([1.25 * one.mean for one in made(np.random.default_rng(1), 0.6, lots=25)], axis=1)
    seen_like = [
        multivariate_normal(cov=np.full((3, 3), one) + (1 - one + 0.25) * np.eye(3)).logpdf(seen).sum() for one in CORRELATIONS
    ]
    weight = PRIOR * np.exp(np.array(seen_like) - max(seen_like))
    assert found.weight == pytest.approx(weight / weight.sum(), rel=1e-9)


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.6, 0.9])
def test_many_lots_tell_the_correlation(correlation):
    found = shared_luck(made(np.random.default_rng(2), correlation, lots=2000))
    assert found.correlation == pytest.approx(correlation, abs=0.06)


def test_where_nothing_is_known_independence_has_half_the_weight_and_the_others_are_as_likely():
    nothing = LotLuck(np.arange(4), np.zeros(4), np.ones(4))
    none = LotLuck(np.empty(0), np.empty(0), np.empty(0))
    certain = LotLuck(np.arange(4), np.full(4, 2.0), np.full(4, 0.01))
    for stages in ([nothing] * 3, [none] * 3, [certain, none, nothing]):
        found = shared_luck(stages).weight
        assert (CORRELATIONS[0], found[0]) == (0, pytest.approx(0.5))
        assert found[1:] == pytest.approx(0.5 / (len(CORRELATIONS) - 1))


def test_a_lot_missing_from_a_stage_is_one_of_which_nothing_is_known_and_order_is_nothing():
    first, second, third = made(np.random.default_rng(3), 0.6, lots=30)
    half = LotLuck(third.lots[:15], third.mean[:15], third.variance[:15])
    blank = (np.arange(30) < 15).astype(float)
    full = LotLuck(third.lots, third.mean * blank, np.where(blank, third.variance, 1))
    plain = shared_luck([first, second, full]).weight
    assert shared_luck([first, second, half]).weight == pytest.approx(plain)
    turned = [LotLuck(one.lots[::-1], one.mean[::-1], one.variance[::-1]) for one in (half, second, first)]
    assert shared_luck(turned).weight == pytest.approx(plain)


def test_draws_are_standard_normal_and_correlated_as_the_weights_say():
    found = shared_luck(made(np.random.default_rng(4), 0.6, lots=40))
    drawn = found.draws(100_000, np.random.default_rng(5))
    assert drawn.mean(axis=0) == pytest.approx(np.zeros(3), abs=0.015)
    assert np.cov(drawn.T) == pytest.approx(found.correlation + (1 - found.correlation) * np.eye(3), abs=0.02)
