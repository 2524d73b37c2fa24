"""Chances held against results: by hand, on counts as on rows, out of sample by controller; refusals in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.proportion import wilson
from pipelines.estimates.reliability import out_of_sample, reliability
from pipelines.vocabulary import Because
from tests.estimates.tries import Fleet


def attempts(seed: int, count: int) -> pd.DataFrame:
    return Fleet(np.random.default_rng(seed)).attempts(count)


def numbers(found) -> list[float]:
    line = [value for one in (found.slope, found.intercept) for value in (one.estimate, one.low, one.high)]
    return [*line, found.brier, found.plain_brier, found.log_loss, found.plain_log_loss, *found.bands.to_numpy().ravel()]


def test_scores_and_bands_by_hand():
    found = reliability([0.2, 0.8], [1, 3], [4, 4], bands=2)
    assert found.brier == pytest.approx((1 * 0.64 + 3 * 0.04 + 3 * 0.04 + 1 * 0.64) / 8)
    assert found.plain_brier == 0.25
    assert found.log_loss == pytest.approx(-(2 * np.log(0.2) + 6 * np.log(0.8)) / 8)
    assert found.plain_log_loss == pytest.approx(np.log(2))
    assert found.slope.estimate == pytest.approx(np.log(3) / np.log(4))
    assert found.intercept.estimate == pytest.approx(0, abs=1e-9)
    assert found.bands[["chance", "k", "n", "share"]].to_numpy().tolist() == [[0.2, 1, 4, 0.25], [0.8, 3, 4, 0.75]]
    assert found.bands["low"].iloc[0] == wilson(1, 4).low


def test_counts_are_their_rows_in_any_order():
    rng = np.random.default_rng(1)
    chance, n = rng.uniform(0.1, 0.9, 40).round(2), rng.integers(1, 5, 40)
    k = rng.binomial(n, chance)
    passed = np.concatenate([[1] * one + [0] * (many - one) for one, many in zip(k, n, strict=True)])
    rows = reliability(np.repeat(chance, n), passed, np.ones(len(passed)))
    order = rng.permutation(40)
    assert numbers(reliability(chance[order], k[order], n[order])) == pytest.approx(numbers(rows))


def test_true_chances_have_slope_1():
    rng = np.random.default_rng(2)
    chance = rng.uniform(0.05, 0.95, 50_000)
    found = reliability(chance, rng.random(50_000) < chance, np.ones(50_000))
    assert found.slope.low < 1 < found.slope.high
    assert found.intercept.low < 0 < found.intercept.high
    assert ((found.bands["low"] < found.bands["chance"]) & (found.bands["chance"] < found.bands["high"])).sum() >= 8
    bold = 1 / (1 + np.exp(-2 * np.log(chance / (1 - chance))))
    assert reliability(bold, rng.random(50_000) < chance, np.ones(50_000)).slope.estimate == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize(
    ("chance", "k", "because"),
    [([0.2, 0.7, 0.5], [1, 1, 1], Because.ONE_RESULT), ([0.2, 0.7, 0.5], [0, 0, 0], Because.ONE_RESULT),
     ([0.2, 0.7, 0.5], [0, 1, 1], Because.SEPARATED), ([0.5, 0.5, 0.5], [0, 1, 1], Because.SEPARATED)],
)  # fmt: skip
def test_a_slope_that_cannot_be_told_is_refused_and_the_scores_stand(chance, k, because):
    found = reliability(chance, k, [1, 1, 1])
    assert (found.slope.because, found.intercept.because, found.slope.estimate) == (because, because, None)
    assert 0 < found.brier < 1
    assert np.isfinite(found.log_loss)


def test_chances_of_0_and_1_that_fail_cost_much_but_not_without_end():
    found = reliability([0.0, 1.0, 0.5], [1, 0, 1], [1, 1, 1])
    assert found.log_loss == pytest.approx((2 * np.log(1e6) + np.log(2)) / 3)


def test_nothing_and_nonsense():
    assert reliability([], [], []).because is Because.NO_ATTEMPTS
    assert reliability([0.5], [0], [0]).because is Because.NO_ATTEMPTS
    for chance, k, n in (([1.5], [0], [1]), ([np.nan], [0], [1]), ([0.5], [2], [1])):
        with pytest.raises(InputError):
            reliability(chance, k, n)


def test_out_of_sample_says_what_new_sticks_say():
    slopes = [out_of_sample(attempts(seed, 1000)).slope.estimate for seed in range(20)]
    assert np.mean(slopes) == pytest.approx(0.95, abs=0.06)
    rows = attempts(9, 2000)
    found = out_of_sample(rows)
    assert found.attempts == 2000
    assert found.brier < found.plain_brier
    assert found.log_loss < found.plain_log_loss
    # Chances that tell nothing out of sample are shown for what they are.
    rng = np.random.default_rng(3)
    noise = rows.assign(passed_count=rng.integers(0, 2, len(rows)))
    assert out_of_sample(noise).brier > 0.99 * out_of_sample(noise).plain_brier


def test_no_clean_is_predicted_from_its_own_controller():
    # One controller a fold, each with a result of its own: what is learnt from the others is the reverse of the truth.
    rows = pd.DataFrame({"fold": [0, 1], "passed_count": [50, 0], "attempt_count": [50, 50]})
    found = out_of_sample(rows)
    assert found.brier > 0.8
    assert found.plain_brier == 1.0


def test_out_of_sample_refuses_in_words():
    rows = attempts(1, 60)
    assert out_of_sample(rows.head(39)).because is Because.TOO_FEW_ATTEMPTS
    assert out_of_sample(rows.head(0)).because is Because.TOO_FEW_ATTEMPTS
    assert out_of_sample(rows.assign(fold=1)).because is Because.TOO_FEW_CLUSTERS
    assert out_of_sample(rows.assign(passed_count=1)).slope.because is Because.ONE_RESULT
