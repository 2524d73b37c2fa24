"""Control charts: the chance of a false point against simulation, creep that is found, and bad input in words."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.control_chart import creep, cumulative_sum, share_chart


def test_the_luck_of_a_chart_is_how_often_samples_of_one_share_lie_outside():
    rng = np.random.default_rng(4)
    tested = rng.integers(20, 80, 25)
    bad = rng.binomial(tested, 0.05)
    chart = share_chart(bad, tested)
    again = rng.binomial(tested, chart.middle, (40_000, 25)) / tested
    seen = ((again > chart.high + 1e-12) | (again < chart.low - 1e-12)).any(axis=1).mean()
    assert chart.luck == pytest.approx(seen, abs=0.01)


def test_limits_widen_as_samples_shrink_and_stay_shares():
    chart = share_chart(np.array([1, 5, 40]), np.array([10, 100, 400]))
    assert (np.diff(chart.high - chart.low) < 0).all()
    assert chart.low.min() == 0
    assert share_chart(np.array([10, 9]), np.array([10, 10])).high.max() == 1


def test_without_any_bad_nothing_lies_outside():
    chart = share_chart(np.zeros(9), np.full(9, 32))
    assert (chart.middle, chart.luck, chart.is_outside.any()) == (0.0, 0.0, False)
    assert creep(np.zeros(9), np.full(9, 32)) is None


def test_a_share_that_has_doubled_is_found_after_it_did_and_a_steady_one_seldom():
    rng = np.random.default_rng(9)
    tested = np.full(60, 80)
    found = [creep(rng.binomial(tested, np.where(np.arange(60) < 30, 0.04, 0.12)), tested) for _ in range(200)]
    assert np.mean([one is not None and one >= 30 for one in found]) > 0.9
    steady = [creep(rng.binomial(tested, 0.04), tested) for _ in range(300)]
    assert np.mean([one is not None for one in steady]) < 0.1


def test_a_sum_grows_by_what_is_over_the_allowance_and_falls_to_0_at_most():
    assert cumulative_sum([3, 5, 5, 2, -9, 4], target=3.0, allowance=0.5).tolist() == [0, 1.5, 3, 1.5, 0, 0.5]


@pytest.mark.parametrize(("bad", "tested"), [([3], [2]), ([0], [0]), ([-1], [5]), ([], [])])
def test_samples_that_cannot_be_are_refused(bad, tested):
    with pytest.raises(InputError, match="more bad than tested"):
        share_chart(np.array(bad), np.array(tested))
