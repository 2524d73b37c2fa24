"""Fates of lots: nested shares add up, certain splits come out, and what cannot be is refused in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from pipelines.errors import InputError
from pipelines.estimates.lot_fate import FATES, expected_fates, lot_fates, split, units_of
from pipelines.vocabulary import Because, Fate
from tests.estimates.lots import made_fates

SPLIT = (0.5, 0.2, 0.2, 0.1)


def alike(*, lots: int = 40, units: int = 10_000) -> pd.DataFrame:
    """Return large lots that all split alike, so that only the luck of single units is left."""
    rows = [
        ("c", "F", f"s{lot}", lot, fate, round(part * units))
        for lot in range(lots)
        for fate, part in zip(FATES, SPLIT, strict=True)
    ]
    return pd.DataFrame(rows, columns=["condition", "family", "seller", "lot", "fate", "units"])


def drawn(fates, mix, *, condition="c", seller=None, count=20_000, seed=1) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return fates.draws(mix, condition=condition, seller=seller, count=count, rng=rng)


def test_draws_are_units_of_the_mix_and_lots_that_all_split_alike_leave_only_binomial_luck():
    units = drawn(lot_fates(alike(lots=150)), {"F": 40})
    assert (units.sum(axis=2) == 40).all()
    assert (units >= 0).all()
    assert units[:, 0].mean(axis=0) == pytest.approx(40 * np.array(SPLIT), abs=0.25)
    for column, part in ((0, 0.5), (3, 0.1)):
        assert units[:, 0, column].std() == pytest.approx(binom(40, part).std(), rel=0.06)


def test_a_lot_of_a_fleet_that_differs_varies_more_than_binomially():
    units = drawn(lot_fates(made_fates(np.random.default_rng(2), lots=60)), {0: 40}, condition=0)
    works = units[:, 0, 0]
    assert works.std() > 1.5 * binom(40, works.mean() / 40).std()


def test_an_average_split_adds_up_and_is_the_mean_of_the_lots():
    fates = lot_fates(made_fates(np.random.default_rng(3), lots=80))
    average = fates.averages([0, 1, 77], condition=0, count=20_000, rng=np.random.default_rng(1))
    assert average.sum(axis=2) == pytest.approx(1.0)
    units = drawn(fates, {0: 1000, 1: 1000, 77: 1000}, condition=0)
    assert average.mean(axis=0) == pytest.approx(units.mean(axis=0) / 1000, abs=0.006)


def test_lots_that_are_worse_in_all_ways_are_drawn_so():
    def told(together: bool) -> tuple[float, np.ndarray]:
        rng, rows = np.random.default_rng(8), []
        for lot in range(60):
            luck = 0.8 * (np.full(3, rng.normal()) if together else rng.normal(size=3))
            left = 200
            for fate, share in zip(FATES, [*(1 / (1 + np.exp(-luck))), 1.0], strict=True):
                rows.append(("c", "F", f"s{lot % 4}", lot, fate, rng.binomial(left, share)))
                left -= rows[-1][-1]
        fates = lot_fates(pd.DataFrame(rows, columns=["condition", "family", "seller", "lot", "fate", "units"]))
        units = drawn(fates, {"F": 200})[:, 0]
        average = fates.averages(["F"], condition="c", count=20_000, rng=np.random.default_rng(1))[:, 0]
        assert average.mean(axis=0) == pytest.approx(units.mean(axis=0) / 200, abs=0.006)
        return fates.luck.correlation, units

    (alone, apart), (shared, joined) = told(False), told(True)
    assert alone < 0.35
    assert shared > 0.85
    # The same good and bad lots at each stage, but more lots in which nearly all is scrap.
    assert joined[:, 0].std() == pytest.approx(apart[:, 0].std(), rel=0.25)
    assert joined[:, 3].std() > 1.3 * apart[:, 3].std()


def test_sellers_may_give_their_lots_the_same_numbers():
    rows = made_fates(np.random.default_rng(9), lots=30)
    renamed = rows.assign(lot=rows["lot"] // 6 * 6).groupby([*rows.columns[:4], "fate"], as_index=False)["units"].sum()
    unique = renamed.assign(lot=renamed["lot"].astype(str) + " of " + renamed["seller"].astype(str))
    assert lot_fates(renamed).luck.weight == pytest.approx(lot_fates(unique).luck.weight, abs=1e-9)


def test_expected_fates_add_up_and_lie_inside_their_limits():
    mix = {0: 12, 1: 30}
    units = drawn(lot_fates(made_fates(np.random.default_rng(4), lots=30)), mix, condition=0)
    found = expected_fates(units, mix)
    by_name = {(one.family, one.fate): one.units for one in found}
    assert sum(by_name[0, fate].estimate for fate in FATES) == pytest.approx(12)
    sold = sum(by_name[None, fate].estimate for fate in FATES[:3])
    assert by_name[None, None].estimate == pytest.approx(sold)
    assert all(one.units.low <= one.units.estimate <= one.units.high for one in found)
    # Weights that leave only lots of many scrapped units.
    is_bad = (units[:, :, 3].sum(axis=1) > 10).astype(float)
    bad = {(one.family, one.fate): one.units for one in expected_fates(units, mix, weights=is_bad)}
    assert bad[None, Fate.SCRAP].low > 10


def test_draws_are_the_shares_split_and_the_split_is_binomial_stage_by_stage():
    fates = lot_fates(made_fates(np.random.default_rng(5), lots=30))
    rng = np.random.default_rng(1)
    shares = fates.shares([0, 1], condition=0, count=500, rng=rng)
    assert shares.shape == (500, 2, 3)
    assert (split({0: 30, 1: 4}, shares, rng) == drawn(fates, {0: 30, 1: 4}, condition=0, count=500)).all()
    fixed = np.broadcast_to([0.5, 0.6, 0.5], (40_000, 1, 3))
    units = split({"F": 40}, fixed, np.random.default_rng(2))[:, 0]
    for column, part in enumerate((0.5, 0.3, 0.1, 0.1)):
        assert units[:, column].mean() == pytest.approx(40 * part, abs=0.1)
        assert units[:, column].std() == pytest.approx(binom(40, part).std(), rel=0.02)


def test_equal_seeds_give_equal_draws_and_open_units_say_nothing():
    rows = made_fates(np.random.default_rng(6), lots=20)
    opened = rows.head(9).assign(fate=Fate.OPEN, units=99)
    assert np.array_equal(
        drawn(lot_fates(pd.concat([rows, opened])), {0: 9}, condition=0), drawn(lot_fates(rows), {0: 9}, condition=0)
    )


def test_no_past_lots_are_refused_and_one_is_led_by_the_prior():
    none = lot_fates(alike().assign(fate=Fate.OPEN))
    assert (none.because, none.units) == (Because.NO_PAST_LOTS, 0)
    assert none.luck.correlation == pytest.approx(0.25)
    with pytest.raises(InputError, match="Nothing is known"):
        drawn(none, {"F": 3})
    one = lot_fates(alike(lots=1, units=10))
    assert (one.because, one.is_prior_led, one.lots, one.units) == (None, True, 1, 10)
    assert (drawn(one, {"new": 1}).sum(axis=2) == 1).all()


def test_lots_in_which_all_units_worked_leave_the_other_stages_to_the_prior():
    rows = pd.DataFrame({"condition": "c", "family": "F", "seller": "s", "lot": range(20), "fate": Fate.WORKS, "units": 20})
    units = drawn(lot_fates(rows), {"F": 20})
    assert units[:, 0, 0].mean() > 19.5
    assert (units.sum(axis=2) == 20).all()


def test_a_family_never_seen_is_said_to_borrow():
    fates = lot_fates(alike(lots=3, units=20))
    assert not fates.is_borrowed(condition="c", family="F")
    assert fates.is_borrowed(condition="c", family="G")


@pytest.mark.parametrize(
    "mix", [{}, {"F": 0}, {"F": -1}, {"F": 1.5}, {"F": float("nan")}, {"F": True}, {"F": "3"}, {"F": 3, "G": 0}]
)
def test_a_mix_that_cannot_be_bought_is_refused(mix):
    with pytest.raises(InputError):
        units_of(mix)


def test_a_fate_or_count_that_cannot_be_is_refused():
    with pytest.raises(InputError, match="another word"):
        lot_fates(alike().assign(fate="lost"))
    with pytest.raises(InputError, match="other than a count"):
        lot_fates(alike().assign(units=0.5))
