"""Excess failures: what must agree, what is refused, and batches of known truth whose excess and failures to come are held."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2, nbinom, poisson

from pipelines.estimates.batch_excess import coming_failures, excess_failures
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because

TWICE = Estimate(2.0, 1.5, 2.6)


def test_twice_as_many_are_as_many_again():
    """At twice the rate of others who would have had 18, 18 are in excess, from 18 · 0.5 to 18 · 1.6."""
    found = excess_failures(18.0, TWICE)
    assert (found.estimate, found.low, found.high) == pytest.approx((18.0, 9.0, 28.8))


def test_fewer_than_expected_is_below_nothing():
    found = excess_failures(12.5, Estimate(0.4, 0.15, 0.9))
    assert (found.estimate, found.low, found.high) == pytest.approx((-7.5, -10.625, -1.25))


def test_no_failures_are_as_many_fewer_as_were_expected():
    found = excess_failures(4.0, Estimate(0.0, 0.0, 0.75))
    assert (found.estimate, found.low, found.high) == (-4.0, -4.0, -1.0)


def test_what_has_no_ratio_has_no_excess():
    assert excess_failures(0.0, Estimate.refused(Because.NO_COMPARISON)).because is Because.NO_COMPARISON
    open_end = excess_failures(1.0, Estimate(3.0, None, 9.0, Because.LIMIT_NOT_REACHED))
    assert (open_end.low, open_end.because) == (None, Because.LIMIT_NOT_REACHED)


def test_the_limits_hold_the_true_excess_as_often_as_those_of_the_ratio():
    """Others known, failures Poisson about ratio × expected: Garwood's limits of them hold 95 %, so those of the excess do."""
    rng, expected, ratio = np.random.default_rng(3), 20.0, 1.8
    held = []
    for count in rng.poisson(ratio * expected, 2000):
        low, high = chi2.ppf(0.025, 2 * count) / 2, chi2.ppf(0.975, 2 * count + 2) / 2
        found = excess_failures(expected, Estimate(count / expected, low / expected, high / expected))
        held.append(found.low <= expected * (ratio - 1) <= found.high)
    assert 0.94 <= np.mean(held) <= 0.98


def test_failures_to_come_of_a_known_ratio_are_poisson():
    sure = Estimate(2.0, 2.0 - 1e-9, 2.0 + 1e-9)
    found = coming_failures(100_000, 0.2, sure, days=90).failures
    assert found.estimate == pytest.approx(36, abs=0.2)
    assert [found.low, found.high] == poisson.ppf([0.05, 0.95], 36).tolist()
    alike = coming_failures(100_000, 0.2, sure, days=90, alike=1.5).failures
    assert [alike.low, alike.high] == pytest.approx(nbinom.ppf([0.05, 0.95], 72, 72 / 108), abs=1)


def test_modules_that_failed_are_not_there_to_fail_again():
    found = coming_failures(400, 1.0, Estimate(2.0, 1.99, 2.01), days=90)
    assert found.failures.estimate == pytest.approx(400 * (1 - np.exp(-2 * 90 / 400)), rel=0.01)
    assert found.excess.estimate == pytest.approx(400 * (np.exp(-90 / 400) - np.exp(-180 / 400)), rel=0.01)
    assert coming_failures(5, 1.0, TWICE, days=90).failures.high == 5


@pytest.mark.parametrize(
    ("modules", "ratio", "because"),
    [
        (0, TWICE, Because.NOTHING_IN_SERVICE),
        (9, Estimate(0.0, 0.0, 0.4), Because.NO_FAILURES),
        (9, Estimate(3.0, None, 9.0), Because.LIMIT_NOT_REACHED),
        (9, Estimate.refused(Because.BATCH_IS_SITE), Because.BATCH_IS_SITE),
    ],
)
def test_what_cannot_be_foretold_is_refused(modules, ratio, because):
    found = coming_failures(modules, 0.1, ratio, days=30)
    assert (found.failures.because, found.excess.because) == (because, because)


def test_what_comes_lies_in_the_interval_nine_times_in_ten():
    """A batch fails at twice a known rate; its ratio is told by its failures so far, and the rest of it is watched on."""
    rng, hazard, days = np.random.default_rng(11), 0.002, 60
    held = []
    for _ in range(400):
        lives = rng.exponential(1 / (2 * hazard), 120)
        failed = int((lives <= 150).sum())
        watched = np.minimum(lives, 150).sum() * hazard
        ends = chi2.ppf([0.025, 0.975], [2 * failed, 2 * failed + 2]) / 2 / watched
        left = int((lives > 150).sum())
        found = coming_failures(left, left * hazard, Estimate(failed / watched, *ends), days=days).failures
        held.append(found.low <= ((lives > 150) & (lives <= 150 + days)).sum() <= found.high)
    assert 0.88 <= np.mean(held) <= 0.97
