"""The power-law likelihood: its slopes against differences, and its top with and without a covariate."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.power_law import PowerCounts, climb


def counts(seed: int) -> PowerCounts:
    """Two groups of 40 spells that all fail, a third of them watched from late on."""
    rng = np.random.default_rng(seed)
    g, at = rng.normal(0, 0.5, 80), rng.weibull(1.7, 80)
    x = np.log(at) - 1
    code, late = np.repeat([0, 1], 40), np.arange(80) % 3 == 0
    sums = [np.bincount(code, weights=one) for one in (np.ones(80), x, g)]
    entry = (x - rng.uniform(0.1, 2, 80))[late]
    rows = [np.append(code, code[late]), np.append(x, entry), np.append(g, g[late]), np.append(np.ones(80), -np.ones(late.sum()))]
    return PowerCounts(*sums, *rows)


def test_slopes_and_curvatures_are_those_of_the_value():
    some, shape, delta, h = counts(1), np.array([1.4, 0.8]), np.array([0.3, -0.5]), 1e-5
    at = some.slopes(shape, delta)
    up, down = some.slopes(shape + h, delta), some.slopes(shape - h, delta)
    right, left = some.slopes(shape, delta + h), some.slopes(shape, delta - h)
    assert at.b == pytest.approx((up.value - down.value) / (2 * h), rel=1e-6, abs=1e-6)
    assert at.d == pytest.approx((right.value - left.value) / (2 * h), rel=1e-6, abs=1e-6)
    assert at.bb == pytest.approx((up.b - down.b) / (2 * h), rel=1e-6)
    assert at.bd == pytest.approx((up.d - down.d) / (2 * h), rel=1e-6, abs=1e-6)
    assert at.dd == pytest.approx((right.d - left.d) / (2 * h), rel=1e-6)


def test_the_climb_ends_at_the_top_from_any_start_and_stays_on_its_line():
    some = counts(2)
    for start in (0.1, 1.0, 9.0):
        shape, gamma, at, is_top = climb(some, np.full(2, start), np.zeros(2), is_free=True)
        assert is_top.all()
        assert np.append(at.b, at.d) == pytest.approx(np.zeros(4), abs=1e-7)
        line, held, on, is_top = climb(some, np.full(2, start), gamma + 0.2, is_free=False)
        assert is_top.all()
        assert held == pytest.approx(gamma + 0.2)
        assert on.b - held * on.d == pytest.approx(np.zeros(2), abs=1e-7)
        assert (on.value < at.value).all()
        assert (line > 0).all()
        assert (shape > 0).all()
