"""Sticks misjudged at a limit: against the bivariate normal of scipy, against made readings, and at the edges."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.pass_fail import misjudged, misread_share, reads_within


@pytest.mark.parametrize(("room", "stick", "tester"), [(2.0, 1.0, 0.3), (-0.5, 1.0, 0.3), (0.0, 2.0, 1.0), (1.0, 0.2, 0.9)])
def test_the_chances_are_those_of_the_bivariate_normal(room, stick, tester):
    from scipy.stats import multivariate_normal, norm

    total = np.hypot(stick, tester)
    both = multivariate_normal([0, 0], [[stick**2, stick**2], [stick**2, total**2]]).cdf([room, room])
    good, reads_good = norm.cdf(room / stick), norm.cdf(room / total)
    found = misjudged(room=room, stick_sd=stick, tester_sd=tester)
    assert found.false_fail_share == pytest.approx(good - both, abs=2e-6)
    assert found.good_fails == pytest.approx((good - both) / good, rel=1e-4, abs=2e-6)
    assert found.bad_passes == pytest.approx((reads_good - both) / (1 - good), rel=1e-4, abs=2e-6)
    assert found.read_bad_share == pytest.approx(1 - reads_good)


def test_they_come_true_of_made_readings():
    rng = np.random.default_rng(5)
    true = rng.normal(4, 1.5, 400_000)
    read = true + rng.normal(0, 0.6, len(true))
    found = misjudged(room=6 - 4, stick_sd=1.5, tester_sd=0.6)
    assert found.good_fails == pytest.approx((read[true <= 6] > 6).mean(), abs=0.002)
    assert found.bad_passes == pytest.approx((read[true > 6] <= 6).mean(), abs=0.006)
    assert reads_within(0.5, 0.6) == pytest.approx((6.5 + rng.normal(0, 0.6, 400_000) <= 6).mean(), abs=0.003)


def test_a_stick_at_the_limit_passes_half_of_the_times():
    assert reads_within(0.0, 0.4) == 0.5
    assert reads_within(np.array([-9.0, 9.0]), 0.4) == pytest.approx([1, 0])


def test_chances_stay_chances_where_hardly_any_stick_is_bad_or_good():
    for room in (-60.0, 60.0):
        found = misjudged(room=room, stick_sd=1.0, tester_sd=0.2)
        for value in (found.good_fails, found.bad_passes, found.false_fail_share, found.read_bad_share):
            assert 0 <= value <= 1


@pytest.mark.parametrize(("read_bad", "tester"), [(0.013, 0.17), (0.05, 0.5), (0.3, 0.3), (0.6, 0.2)])
def test_how_many_of_those_found_bad_are_good_comes_true_of_made_readings(read_bad, tester):
    rng = np.random.default_rng(3)
    true = rng.normal(0, (1 - tester**2) ** 0.5, 1_500_000)
    read = true + rng.normal(0, tester, len(true))
    limit = np.quantile(read, 1 - read_bad)
    assert misread_share(read_bad, tester) == pytest.approx((true[read > limit] <= limit).mean(), abs=0.012)


def test_a_tester_without_error_misreads_none_and_one_of_error_alone_nearly_all_but_the_few_bad():
    assert misread_share(0.05, 0.0) == 0
    assert misread_share(0.05, 0.999) == pytest.approx(1, abs=0.01)
    assert misread_share(0.05, 0.3) > misread_share(0.05, 0.1)
