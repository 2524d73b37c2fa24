"""The products over the failures of a controller: the series against the whole formula, and no overflow."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.restoration_product import Products


@pytest.mark.parametrize("size", [1e-3, 0.03, 0.1, 1.0, 30.0])
@pytest.mark.parametrize("unit", [1e-200, 1.0, 1e200])
def test_a_product_and_its_slopes_are_those_of_every_failure_at_every_node(size, unit):
    """Narrow ones by the series, wide ones not; a hazard that is huge goes with a factor that is tiny."""
    rng = np.random.default_rng(1)
    of = np.repeat(np.arange(40), rng.integers(1, 6, 40))
    half, z, mass = unit * rng.exponential(1, len(of)), size / unit * rng.exponential(1, (16, 40)), rng.random((16, 40))
    stretch = np.flatnonzero(np.diff(of, prepend=-1))
    products = Products(z, half, stretch, of)
    u = z[:, of] * half
    value = np.where(u < 1e-3, u**2 / 6, u + np.log(-np.expm1(-2 * u) / (2 * u)))
    slope = np.where(u < 1e-3, u / 3, 1 / np.tanh(u) - 1 / u)
    assert products.log == pytest.approx(np.add.reduceat(value, stretch, axis=1), rel=1e-6, abs=5e-8)
    assert products.slopes(mass) * unit == pytest.approx((mass[:, of] * z[:, of] * slope).sum(axis=0) * unit, rel=1e-5)
