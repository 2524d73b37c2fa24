"""A lot after its test: against the closed form of a beta-binomial prior, against enumeration, and its refusals."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.finite_lot import LEAST_EFFECTIVE, good_in_lot, lot_after_test
from pipelines.vocabulary import Because


def drawn(rng: np.random.Generator, *, lot_count: int, a: float = 4.0, b: float = 2.0, draws: int = 40_000) -> np.ndarray:
    """Return numbers good of lots whose share good is beta(a, b)."""
    return rng.binomial(lot_count, rng.beta(a, b, draws))


@pytest.mark.parametrize(("size", "tested", "found"), [(50, 10, 4), (50, 10, 10), (20, 20, 13), (200, 8, 0), (1, 1, 1)])
def test_the_rest_of_a_beta_binomial_lot_is_beta_binomial(size, tested, found):
    from scipy.stats import betabinom

    after = lot_after_test(
        drawn(np.random.default_rng(1), lot_count=size), lot_count=size, tested_count=tested, good_found=found
    )  # fmt: skip
    rest = betabinom(size - tested, 4 + found, 2 + tested - found)
    error = 5 * max(rest.std(), 0.02) / np.sqrt(after.effective_draws)
    assert after.mean_good_count - found == pytest.approx(rest.mean(), abs=error)
    assert after.rest_good_count.estimate == pytest.approx(rest.median(), abs=1 + size // 50)
    for limit, share in ((after.rest_good_count.low, 0.025), (after.rest_good_count.high, 0.975)):
        assert limit == pytest.approx(rest.ppf(share), abs=1 + size // 50)
    assert after.good_count.low == after.rest_good_count.low + found
    assert after.because is None


def test_the_chance_of_so_few_is_that_of_the_beta_binomial_before_the_test():
    from scipy.stats import betabinom

    after = lot_after_test(drawn(np.random.default_rng(2), lot_count=60), lot_count=60, tested_count=12, good_found=5)
    assert after.found_at_most_chance[0] == pytest.approx(betabinom(12, 4, 2).cdf(5), abs=0.006)


def test_all_tested_leaves_no_doubt():
    after = lot_after_test(drawn(np.random.default_rng(3), lot_count=15), lot_count=15, tested_count=15, good_found=9)
    assert (after.good_count.low, after.good_count.estimate, after.good_count.high) == (9, 9, 9)
    assert after.rest_good_count.high == 0


def test_none_tested_changes_nothing():
    good = drawn(np.random.default_rng(4), lot_count=30, draws=500)
    after = lot_after_test(good, lot_count=30, tested_count=0, good_found=0)
    assert after.weights == pytest.approx(np.full(500, 1 / 500))
    assert after.effective_draws == pytest.approx(500)
    assert after.mean_good_count == pytest.approx(good.mean())
    assert after.found_at_most_chance == (1.0,)
    assert after.pick().tolist() == list(range(500))


def test_families_tested_apart_weigh_as_one_test_after_the_other():
    rng = np.random.default_rng(5)
    share = rng.beta(4, 2, 20_000)  # the same luck in both families
    good = rng.binomial([40, 25], share[:, None])
    after = lot_after_test(good, lot_count=[40, 25], tested_count=[6, 5], good_found=[2, 5])
    first = lot_after_test(good[:, 0], lot_count=40, tested_count=6, good_found=2)
    second = lot_after_test(good[:, 1], lot_count=25, tested_count=5, good_found=5)
    product = first.weights * second.weights
    assert after.weights == pytest.approx(product / product.sum(), abs=1e-15)
    assert after.found_at_most_chance == first.found_at_most_chance + second.found_at_most_chance


def test_two_tests_of_a_lot_say_what_one_test_of_both_says():
    from pipelines.estimates.hypergeometric import chance

    good = drawn(np.random.default_rng(6), lot_count=30, draws=5000)
    once = lot_after_test(good, lot_count=30, tested_count=9, good_found=5)
    first = lot_after_test(good, lot_count=30, tested_count=4, good_found=3)
    second = chance(2, lot_count=26, held_count=np.maximum(good - 3, 0), tested_count=5)
    product = first.weights * second
    assert once.weights == pytest.approx(product / product.sum(), abs=1e-15)


def test_permuted_draws_and_families_have_permuted_weights():
    rng = np.random.default_rng(7)
    good = rng.binomial([40, 25, 9], rng.beta(2, 2, (3000, 3)))
    plain = lot_after_test(good, lot_count=[40, 25, 9], tested_count=[6, 5, 1], good_found=[2, 5, 1])
    order = rng.permutation(3000)
    turned = lot_after_test(good[order][:, [2, 0, 1]], lot_count=[9, 40, 25], tested_count=[1, 6, 5], good_found=[1, 2, 5])
    assert turned.weights == pytest.approx(plain.weights[order], abs=1e-16)
    assert turned.good_count == plain.good_count


def test_picked_draws_are_equal_draws_of_the_tested_lot():
    good = drawn(np.random.default_rng(8), lot_count=80, draws=20_000)
    after = lot_after_test(good, lot_count=80, tested_count=10, good_found=4)
    picked = good[after.pick()]
    assert len(picked) == len(good)
    assert picked.mean() == pytest.approx(after.mean_good_count, abs=0.05)
    assert np.quantile(picked, [0.025, 0.975]).tolist() == pytest.approx([after.good_count.low, after.good_count.high], abs=1)


def test_too_few_draws_that_go_with_the_test_are_refused_and_how_many_would_do_is_said():
    good = drawn(np.random.default_rng(9), lot_count=100, a=60, b=10, draws=2000)
    after = lot_after_test(good, lot_count=100, tested_count=40, good_found=20)
    assert after.because is Because.TOO_FEW_DRAWS
    assert after.good_count.because is after.rest_good_count.because is Because.TOO_FEW_DRAWS
    assert after.mean_good_count is None
    assert after.effective_draws < LEAST_EFFECTIVE
    assert after.draws_needed == pytest.approx(LEAST_EFFECTIVE * 2000 / after.effective_draws, abs=1)
    assert after.found_at_most_chance[0] < 1e-3


def test_enough_draws_are_enough():
    few = lot_after_test(drawn(np.random.default_rng(10), lot_count=20, draws=300), lot_count=20, tested_count=5, good_found=2)
    assert few.because is Because.TOO_FEW_DRAWS
    good = drawn(np.random.default_rng(10), lot_count=20, draws=3 * few.draws_needed)
    assert lot_after_test(good, lot_count=20, tested_count=5, good_found=2).because is None


def test_a_test_that_no_draw_can_have_given_is_refused():
    after = lot_after_test(np.full(1000, 9), lot_count=10, tested_count=5, good_found=2)
    assert (after.because, after.draws_needed, after.effective_draws) == (Because.TOO_FEW_DRAWS, None, 0.0)
    assert not after.weights.any()
    with pytest.raises(InputError, match="No draw can have given this test"):
        after.pick()


def test_very_unlikely_tests_of_many_families_keep_their_digits():
    good = np.tile([[450], [440]], (200, 12))
    after = lot_after_test(good, lot_count=[500] * 12, tested_count=[100] * 12, good_found=[40] * 12)
    # Both states are beyond belief, the second less so; their weights are a ratio of two numbers under the smallest float.
    assert after.weights[1] > after.weights[0] >= 0
    assert after.weights.sum() == pytest.approx(1)


@pytest.mark.parametrize(
    ("good", "size", "tested", "found", "said"),
    [
        ([3, 4], 9, 2, 3, "3 good of 2 units tested"),
        ([3, 4], 9, 10, 3, "10 units tested of a lot of 9"),
        ([3, 4], 0, 0, 0, "A lot of 0 units"),
        ([3, 10], 9, 2, 1, "no number of units of the lot"),
        ([3, -1], 9, 2, 1, "no number of units of the lot"),
        ([3, 1.5], 9, 2, 1, "no number of units of the lot"),
        ([3, float("nan")], 9, 2, 1, "no number of units of the lot"),
        ([], 9, 2, 1, "not of the same families"),
        ([[3, 4]], 9, 2, 1, "not of the same families"),
        ([[3, 4]], [9, 9], [2, 2], [1], "not of the same families"),
    ],
)
def test_bad_input_is_refused_in_words(good, size, tested, found, said):
    with pytest.raises(InputError, match=said):
        lot_after_test(np.array(good), lot_count=size, tested_count=tested, good_found=found)


@pytest.mark.parametrize(("size", "tested"), [(8, 3), (20, 5), (30, 12), (9, 9)])
def test_exact_limits_hold_at_least_at_their_level_whatever_the_lot_holds(size, tested):
    from scipy.stats import hypergeom

    limits = [good_in_lot(found, tested_count=tested, lot_count=size, level=0.9) for found in range(tested + 1)]
    for held in range(size + 1):
        chances = hypergeom.pmf(np.arange(tested + 1), size, held, tested)
        below, above = ([getattr(one, name) for one in limits] for name in ("low", "high"))
        assert chances[np.array(below) > held].sum() <= 0.05 + 1e-8
        assert chances[np.array(above) < held].sum() <= 0.05 + 1e-8


@pytest.mark.parametrize(("found", "tested", "size"), [(0, 5, 20), (3, 5, 20), (5, 5, 20), (7, 20, 300)])
def test_exact_limits_are_found_by_looking_at_every_lot(found, tested, size):
    from scipy.stats import hypergeom

    held = np.arange(size + 1)
    is_in = (hypergeom.cdf(found, size, held, tested) > 0.025) & (hypergeom.sf(found - 1, size, held, tested) > 0.025)
    limits = good_in_lot(found, tested_count=tested, lot_count=size)
    assert (limits.low, limits.high) == (held[is_in].min(), held[is_in].max())
    assert limits.estimate == size * found / tested


def test_nothing_tested_says_nothing():
    assert good_in_lot(0, tested_count=0, lot_count=9).because is Because.NO_ATTEMPTS
    with pytest.raises(InputError, match="3 good of 2"):
        good_in_lot(3, tested_count=2, lot_count=9)
