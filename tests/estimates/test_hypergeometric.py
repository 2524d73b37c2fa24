"""Drawing without putting back: against scipy and whole-number arithmetic, and bad input in words."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.hypergeometric import chance, chance_at_most, require_count, require_tested, units_from, units_up_to


@pytest.mark.parametrize(("size", "tested"), [(1, 1), (7, 3), (50, 50), (80, 13), (2000, 30), (40_000, 200)])
def test_chances_are_those_of_scipy(size, tested):
    from scipy.stats import hypergeom

    held = np.unique(np.linspace(0, size, 60).astype(int))
    found = np.arange(tested + 1)
    ours = chance(found[:, None], lot_count=size, held_count=held, tested_count=tested)
    assert ours == pytest.approx(hypergeom.pmf(found[:, None], size, held, tested), rel=1e-8, abs=1e-14)
    assert ours.sum(axis=0) == pytest.approx(1, rel=1e-9)
    for most in {0, tested // 2, tested - 1, tested}:
        at_most = chance_at_most(most, lot_count=size, held_count=held, tested_count=tested)
        assert at_most == pytest.approx(hypergeom.cdf(most, size, held, tested), rel=1e-8, abs=1e-14)


def test_a_chance_in_whole_numbers():
    exact = Fraction(comb(9, 2) * comb(11, 3), comb(20, 5))
    assert float(chance(2, lot_count=20, held_count=9, tested_count=5)) == pytest.approx(float(exact), rel=1e-12)


def test_what_cannot_be_has_no_chance():
    assert chance([-1, 4, 6], lot_count=9, held_count=3, tested_count=5).tolist() == [0, 0, 0]
    assert float(chance(0, lot_count=9, held_count=5, tested_count=5)) == 0
    assert float(chance(0, lot_count=9, held_count=5, tested_count=0)) == 1
    assert chance_at_most(-1, lot_count=9, held_count=np.arange(10), tested_count=5).tolist() == [0] * 10
    assert chance_at_most(7, lot_count=9, held_count=np.arange(10), tested_count=5).tolist() == [1] * 10


def test_a_share_of_a_lot_is_a_whole_number_where_only_the_last_digits_say_otherwise():
    assert 0.07 * 100 > 7
    assert (units_from(0.07, 100), units_up_to(0.29, 100)) == (7, 29)
    assert (units_from(0.071, 100), units_up_to(0.079, 100)) == (8, 7)
    assert (units_from(0, 5), units_up_to(1, 5)) == (0, 5)


@pytest.mark.parametrize(
    ("k", "n", "size", "said"),
    [
        (4, 3, 9, "4 good of 3 units tested"), (-1, 3, 9, "-1 is not a number of units"),
        (0, 10, 9, "10 units tested of a lot of 9"), (0, 0, 0, "A lot of 0 units"), (1.5, 3, 9, "1.5 is not a number of units"),
        (float("nan"), 3, 9, "nan is not a number of units"), ([1, 4], [2, 3], [9, 9], "4 good of 3 units tested"),
    ],
)  # fmt: skip
def test_a_test_that_cannot_be_is_refused_in_words(k, n, size, said):
    with pytest.raises(InputError, match=said):
        require_tested(k, tested_count=n, lot_count=size)


def test_counts_are_whole_numbers():
    require_count(0, 1, 10**9)
    with pytest.raises(InputError, match="inf is not a number of units"):
        require_count(3, float("inf"))
