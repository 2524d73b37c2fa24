"""A small, seeded part of what `python -m tests.calibration.batches` prints."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from tests.calibration.batches import Shape, discovery, promised, seen, suppliers_of
from tests.calibration.batches import fleet as made


@pytest.mark.parametrize(("bad_share", "variance"), [(0.0, 0.0), (0.0, 0.5), (0.1, 0.0)])
def test_luck_among_those_named_stays_under_its_share(bad_share, variance):
    fleets = 15
    told = discovery(fleets, Shape(20, 2000, variance), bad_share=bad_share)
    # where all is luck the share is 0 or 1 a fleet: more than this would come about in 1 of 100 tries at 10 %
    assert told["luck"] * fleets <= binom.ppf(0.99, fleets, 0.1)
    assert told["held"] > 0.92


def test_power_is_what_the_information_promises():
    told, came, count = promised(20, 2.0)
    assert count > 40
    assert came == pytest.approx(told, abs=3 * (0.25 / count) ** 0.5)


def test_suppliers_who_are_alike_are_not_told_apart():
    named = []
    for seed in range(6):
        found = seen(made(np.random.default_rng(seed), Shape(20, 2000), np.ones(20)))
        named += [one.ratio.low > 1 or one.ratio.high < 1 for one in suppliers_of(found, 4).suppliers]
    assert sum(named) <= binom.ppf(0.99, len(named), 0.05)
