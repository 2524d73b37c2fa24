"""What a test is worth: against closed forms, a nested simulation and enumeration, and at its edges."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.finite_lot import lot_after_test
from pipelines.estimates.value_of_testing import value_of_testing


def beta_binomial(*, lot_count: int, a: float, b: float) -> tuple[np.ndarray, np.ndarray]:
    """Return every number good that a lot can hold, and its chance: draws and weights without any luck in them."""
    from scipy.stats import betabinom

    held = np.arange(lot_count + 1)
    return held, betabinom(lot_count, a, b).pmf(held)


@pytest.mark.parametrize(("size", "a", "b", "price"), [(20, 3, 2, 130.0), (50, 1, 1, 260.0), (9, 5, 2, 70.0)])
def test_a_lot_with_a_beta_prior_has_the_closed_form(size, a, b, price):
    """The rest of the lot is expected to be good in the share (a + k) / (a + b + n) after k good of n."""
    from scipy.stats import betabinom

    held, chances = beta_binomial(lot_count=size, a=a, b=b)
    found = value_of_testing(10.0 * held - price, held, lot_count=size, cost_per_unit=1.5, weights=chances)
    now = max(0.0, 10 * size * a / (a + b) - price)
    for tested in range(min(size, 30) + 1):
        k = np.arange(tested + 1)
        after = 10 * (k + (size - tested) * (a + k) / (a + b + tested)) - price
        worth = (betabinom(tested, a, b).pmf(k) * np.maximum(after, 0)).sum() - now
        assert found.worth[tested] == pytest.approx(worth, abs=1e-9)
        assert found.net[tested] == pytest.approx(worth - 1.5 * tested, abs=1e-9)
        if tested == found.best_count and tested:
            assert found.act_from == k[after > 0][0]


def test_one_unit_tells_all_of_a_lot_that_is_all_good_or_all_bad():
    good = np.repeat([0, 10], [700, 300])
    found = value_of_testing(np.where(good, 90.0, -60.0), good, lot_count=10, cost_per_unit=4.0)
    assert found.gain == pytest.approx(0.3 * 90 - 0.7 * 60)
    assert found.worth[:3].tolist() == pytest.approx([0, 27, 27])
    assert (found.best_count, found.act_from) == (1, 1)
    assert found.perfect == pytest.approx(27)


def test_the_worth_is_that_of_a_nested_simulation():
    """A million lots: draw one, test it, decide by the mean gain of the lots that gave the same result, and take its gain."""
    rng = np.random.default_rng(11)
    share = rng.beta(3, 3, 400_000)
    good = rng.binomial(24, share)
    gain = 12.0 * good - 150 + rng.normal(0, 40, len(good)) + 60 * (share > 0.7)
    found = value_of_testing(gain, good, lot_count=24, cost_per_unit=0.0, most=12)
    for tested in (1, 4, 12):
        k = rng.hypergeometric(good, 24 - good, tested)
        means = np.bincount(k, weights=gain) / np.bincount(k)
        fresh = rng.binomial(24, rng.beta(3, 3, 400_000))
        fresh_share = rng.beta(3 + fresh, 3 + 24 - fresh)
        fresh_gain = 12.0 * fresh - 150 + 60 * (fresh_share > 0.7)
        result = rng.hypergeometric(fresh, 24 - fresh, tested)
        earned = np.where(means[result] > 0, fresh_gain, 0.0)
        simulated = earned.mean() - max(0.0, fresh_gain.mean())
        assert found.worth[tested] == pytest.approx(simulated, abs=0.35)


def test_the_error_is_the_spread_of_the_worth_over_draws_anew():
    rng = np.random.default_rng(12)
    worths, errors = [], []
    for _ in range(60):
        good = rng.binomial(24, rng.beta(3, 3, 2000))
        found = value_of_testing(12.0 * good - 150 + rng.normal(0, 40, 2000), good, lot_count=24, cost_per_unit=0, most=5)
        worths.append(found.worth[5])
        errors.append(found.worth_error[5])
    assert np.mean(errors) == pytest.approx(np.std(worths, ddof=1), rel=0.3)


def test_a_larger_test_is_worth_no_less_and_none_is_worth_more_than_knowing():
    rng = np.random.default_rng(13)
    good = rng.binomial(40, rng.beta(2, 1, 5000))
    found = value_of_testing(8.0 * good - 200 + rng.normal(0, 90, 5000), good, lot_count=40, cost_per_unit=0.5, most=40)
    assert found.worth[0] == 0
    assert (np.diff(found.worth) > -1e-9).all()
    assert found.worth[-1] == pytest.approx(found.perfect)
    assert found.best_count == int(np.argmax(found.net))


def test_a_test_is_worth_nothing_where_no_result_changes_the_decision():
    good = np.random.default_rng(14).binomial(10, 0.9, 1000)
    for gain in (good + 1.0, -good - 1.0, np.zeros(1000)):
        found = value_of_testing(gain, good, lot_count=10, cost_per_unit=1.0)
        assert found.worth.max() == pytest.approx(0, abs=1e-9)
        assert (found.best_count, found.act_from) == (0, None)


def test_one_unit_may_be_worth_nothing_where_several_are_worth_much():
    held, chances = beta_binomial(lot_count=30, a=30, b=3)
    found = value_of_testing(10.0 * held - 240, held, lot_count=30, cost_per_unit=0.01, weights=chances)
    assert found.worth[1] == pytest.approx(0, abs=1e-9)
    assert found.best_count > 3


def test_after_a_test_the_next_unit_is_worth_what_the_larger_test_adds():
    """What the first test and then one unit more bring together is what both in one test bring, if one always tests on."""
    held, chances = beta_binomial(lot_count=20, a=2, b=2)
    gain = 10.0 * held - 100
    whole = value_of_testing(gain, held, lot_count=20, cost_per_unit=0, weights=chances)
    from scipy.stats import betabinom

    together = whole.worth[3]
    for k in range(4):
        after = lot_after_test(held, lot_count=20, tested_count=3, good_found=k)
        weights = after.weights * chances
        # The untested units: draws that cannot be have no weight, whatever stands in them.
        more = value_of_testing(gain, held - k, lot_count=17, cost_per_unit=0, weights=weights)
        together += betabinom(3, 2, 2).pmf(k) * more.worth[2]
    assert together == pytest.approx(whole.worth[5], abs=1e-9)


def test_money_in_another_unit_scales_and_permuted_draws_change_nothing():
    rng = np.random.default_rng(15)
    good = rng.binomial(15, rng.beta(2, 2, 3000))
    gain = 9.0 * good - 60 + rng.normal(0, 20, 3000)
    plain = value_of_testing(gain, good, lot_count=15, cost_per_unit=1.0)
    order = rng.permutation(3000)
    other = value_of_testing(100 * gain[order], good[order], lot_count=15, cost_per_unit=100.0)
    assert other.worth == pytest.approx(100 * plain.worth)
    assert other.worth_error == pytest.approx(100 * plain.worth_error)
    assert (other.best_count, other.act_from) == (plain.best_count, plain.act_from)


def test_where_good_units_are_unwanted_no_number_good_is_a_limit():
    held, chances = beta_binomial(lot_count=10, a=1, b=1)
    found = value_of_testing(5.0 - held, held, lot_count=10, cost_per_unit=0.01, weights=chances)
    assert found.best_count > 0
    assert found.act_from is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"gain": [1.0]}, "not of the same draws"),
        ({"gain": [], "good": []}, "not of the same draws"),
        ({"gain": [1.0, float("nan")]}, "no numbers"),
        ({"good": [1, 6]}, "no number of units of the lot"),
        ({"good": [1, 1.5]}, "no number of units of the lot"),
        ({"lot_count": 0}, "A lot of 0 units"),
        ({"cost_per_unit": -1}, "A test that costs -1"),
        ({"cost_per_unit": float("nan")}, "A test that costs nan"),
        ({"most": -1}, "-1 is not a number of units"),
        ({"weights": np.array([0.0, 0.0])}, "all weights are 0"),
        ({"weights": np.array([1.0, -1.0])}, "no numbers"),
        ({"weights": np.array([1.0])}, "not of the same draws"),
    ],
)
def test_bad_input_is_refused_in_words(change, said):
    given = {"gain": [1.0, -1.0], "good": [1, 0], "lot_count": 5, "cost_per_unit": 1.0} | change
    with pytest.raises(InputError, match=said):
        value_of_testing(np.array(given.pop("gain")), np.array(given.pop("good")), **given)
