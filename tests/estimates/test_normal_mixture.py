"""Quantiles of mixtures of normal distributions, against scipy's normal distribution and against draws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from pipelines.estimates.normal_mixture import quantile


def test_one_component_is_the_normal_distribution():
    mean, sd = np.array([[1.0, -3.0]]), np.array([[2.0, 0.1]])
    for share in (0.025, 0.5, 0.9):
        assert quantile(np.array([1.0]), mean, sd, share) == pytest.approx(norm.ppf(share, mean[0], sd[0]), abs=1e-9)


def test_a_mixture_has_its_share_below():
    weight, mean, sd = np.array([0.2, 0.5, 0.3]), np.array([[0.0], [2.0], [5.0]]), np.array([[1.0], [0.2], [3.0]])
    at = quantile(weight, mean, sd, 0.3)
    assert weight @ norm.cdf(at, mean, sd) == pytest.approx(0.3, abs=1e-9)
