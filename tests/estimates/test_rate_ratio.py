"""Rates and their ratio against scipy's exact tests and closed forms; refusals; the stated power is the power met."""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest
from scipy import stats

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.rate_ratio import against_expected, halving_power, rate, rate_ratio
from pipelines.vocabulary import Because


@pytest.mark.parametrize(("count", "exposure"), [(1, 10.0), (7, 3.5), (240, 1000.0)])
def test_limits_of_a_rate_are_those_of_chi_square(count, exposure):
    found = rate(count, exposure)
    assert found.estimate == count / exposure
    assert found.low == pytest.approx(stats.chi2.ppf(0.025, 2 * count) / 2 / exposure)
    assert found.high == pytest.approx(stats.chi2.ppf(0.975, 2 * count + 2) / 2 / exposure)


@pytest.mark.parametrize(
    ("count", "exposure", "base", "base_exposure"), [(3, 10.0, 9, 12.0), (40, 100.0, 55, 90.0), (1, 1.0, 1, 1.0)]
)
@pytest.mark.parametrize("level", [0.8, 0.95])
def test_limits_of_a_ratio_are_those_of_clopper_and_pearson(count, exposure, base, base_exposure, level):
    found = rate_ratio(count, exposure, base, base_exposure, level=level)
    share = stats.binomtest(count, count + base).proportion_ci(level, method="exact")
    per = base_exposure / exposure
    assert found.estimate == pytest.approx(per * count / base)
    assert found.low == pytest.approx(per * share.low / (1 - share.low))
    assert found.high == pytest.approx(per * share.high / (1 - share.high))


def test_a_spread_counts_as_so_many_fewer_faults():
    assert rate_ratio(40, 100, 60, 90, spread=2.0) == rate_ratio(20, 100, 30, 90)
    wide = rate(40, 100, spread=4.0)
    assert (wide.low, wide.high) == (pytest.approx(4 * rate(10, 100).low), pytest.approx(4 * rate(10, 100).high))


def test_no_fault_on_a_side_leaves_one_limit_and_no_estimate():
    assert rate(0, 100) == Estimate(None, None, pytest.approx(-log(0.025) / 100), Because.NO_FAILURES)
    none_after = rate_ratio(0, 10, 20, 10)
    assert (none_after.estimate, none_after.low, none_after.because) == (None, None, Because.NO_FAILURES)
    assert none_after.high == pytest.approx((1 - 0.025 ** (1 / 20)) / 0.025 ** (1 / 20))
    none_before = rate_ratio(20, 10, 0, 10)
    assert none_before.high is None
    assert none_before.low > 1
    assert rate_ratio(0, 10, 0, 10) == Estimate.refused(Because.NO_FAILURES)
    assert against_expected(0, 20, relative_error=0.0).high == pytest.approx(-log(0.025) / 20)


def test_nothing_watched_tells_nothing():
    assert rate(0, 0) == Estimate.refused(Because.NO_SPELLS)
    assert rate_ratio(3, 10, 0, 0) == Estimate.refused(Because.NO_SPELLS)
    assert against_expected(0, 0, relative_error=0.1) == Estimate.refused(Because.NO_FAILURES)
    assert halving_power(0, relative_error=0.1) == 0


def test_an_expectation_without_error_leaves_the_limits_of_the_count():
    alone = rate(30, 40)
    found = against_expected(30, 40, relative_error=0.0)
    assert (found.estimate, found.low, found.high) == (alone.estimate, pytest.approx(alone.low), pytest.approx(alone.high))
    # and with many faults the error of the expectation is all there is
    wide = against_expected(4_000_000, 4_000_000, relative_error=0.1)
    assert wide.high == pytest.approx(exp(1.959964 * 0.1), rel=1e-4)


def test_the_power_of_a_halving_is_met():
    rng = np.random.default_rng(3)
    for base in (15, 40, 100):
        said = halving_power(base, relative_error=base**-0.5)
        before, after = rng.poisson(base, 2000), rng.poisson(base / 2, 2000)
        shown = np.mean(
            [(high := rate_ratio(a, 1, b, 1).high) is not None and high < 1 for a, b in zip(after, before, strict=True)]
        )
        assert shown == pytest.approx(said, abs=0.1)


@pytest.mark.parametrize(
    "call",
    [
        lambda: rate(-1, 10),
        lambda: rate(1, 0),
        lambda: rate(1, float("nan")),
        lambda: rate(1, 10, spread=0.5),
        lambda: rate(1, 10, level=1.0),
        lambda: rate_ratio(1, 10, float("inf"), 10),
        lambda: against_expected(1, 10, relative_error=-1),
    ],
)
def test_impossible_numbers_are_refused(call):
    with pytest.raises(InputError):
        call()
