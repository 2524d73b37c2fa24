"""Returns of lots: against Kaplan–Meier, plain counts, made lots of known truth, and what is refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from lifelines import KaplanMeierFitter

from pipelines.errors import InputError
from pipelines.estimates.crossed_share import crossed_share
from pipelines.estimates.lot_inputs import Portion
from pipelines.estimates.lot_return import lot_returns
from pipelines.vocabulary import Because

WARRANTY = 90
KEYS = ["condition", "family", "seller", "lot"]


def made_sales(rng: np.random.Generator, *, lots: int = 25, lot_sd: float = 0.7, watched: bool = False) -> pd.DataFrame:
    """Return sales one a row, lots of up to three families, returns early in the warranty. Some are watched in part, the last
    one to the end."""
    by_family, by_seller = rng.normal(0, 0.5, 6), rng.normal(0, 0.3, 4)
    rows = []
    for lot in range(lots):
        seller, luck, left = rng.integers(4), rng.normal(0, lot_sd), 1e9 if watched or lot == lots - 1 else rng.integers(5, 400)
        for family in rng.choice(6, rng.integers(1, 4), replace=False):
            p = 1 / (1 + np.exp(-(-2.2 + by_family[family] + by_seller[seller] + luck)))
            n = rng.integers(6, 40)
            back = np.where(rng.random(n) < p, np.ceil(WARRANTY * rng.beta(1, 2, n)), np.inf)
            until = np.minimum(WARRANTY, left + rng.integers(0, 30, n))
            rows += [("untested", family, seller, lot, *one) for one in zip(np.minimum(back, until), back <= until, strict=True)]
    return pd.DataFrame(rows, columns=[*KEYS, "days", "is_returned"]).assign(sale_count=1)


def shares(found, *families, count: int = 4000, **listing) -> np.ndarray:
    conditions = dict.fromkeys(families or (0,), "untested")
    return found.of_lot(conditions, seller=listing.get("seller"), count=count, rng=np.random.default_rng(3)).draws


@pytest.mark.parametrize("seed", range(6))
def test_returns_over_what_the_sales_count_as_are_one_less_kaplan_meier(seed):
    sales = made_sales(np.random.default_rng(seed))
    found = lot_returns(sales, days=WARRANTY)
    curve = KaplanMeierFitter().fit(sales["days"], sales["is_returned"])
    assert found.share == pytest.approx(1 - curve.predict(WARRANTY), rel=1e-9)
    assert found.shares.k / found.shares.n == pytest.approx(found.share, rel=1e-9)
    assert found.shares.n == pytest.approx(found.followed)
    assert found.followed < len(sales)


def test_sales_all_watched_are_plain_counts():
    sales = made_sales(np.random.default_rng(7), watched=True)
    found = lot_returns(sales, days=WARRANTY)
    counts = sales.groupby(KEYS, as_index=False).agg(k=("is_returned", "sum"), n=("sale_count", "sum"))
    plain = crossed_share(counts).draws(condition="untested", families=[0, 3], seller=2, count=500, rng=np.random.default_rng(3))
    assert found.of_lot(dict.fromkeys([0, 3], "untested"), seller=2, count=500, rng=np.random.default_rng(3)).draws == (
        pytest.approx(plain)
    )  # fmt: skip
    assert found.followed == len(sales)


def test_intervals_of_a_new_lot_hold_and_those_of_one_share_for_all_are_too_narrow():
    """100 made trades of 20 lots, and what comes back of the next lot of a known seller."""
    held = np.zeros((100, 2))
    for seed in range(100):
        rng = np.random.default_rng([seed, 2])
        sales = made_sales(rng, lots=21)
        past, new = sales[sales["lot"] < 20], sales[sales["lot"] == 20]
        found, sold = lot_returns(past, days=WARRANTY), new.groupby("family")["sale_count"].sum()
        alike = rng.beta(*Portion(found.share, found.followed).beta(), (4000, 1))
        for place, one in enumerate((shares(found, *sold.index, seller=new["seller"].iloc[0]), alike)):
            back = rng.binomial(sold.to_numpy(), one).sum(axis=1) + rng.random(4000)  # returns are few: ties are broken
            low, high = np.quantile(back, [0.1, 0.9])
            held[seed, place] = low <= new["is_returned"].sum() + rng.random() <= high
    ours, one_for_all = held.mean(axis=0)
    assert abs(ours - 0.8) < 0.12  # three standard errors
    assert one_for_all < 0.68


def test_an_average_knows_no_luck_of_a_lot_and_has_its_mean():
    found = lot_returns(made_sales(np.random.default_rng(5)), days=WARRANTY)
    average = found.on_average([0, 1, 2], condition="untested", count=20_000, rng=np.random.default_rng(1))
    drawn = shares(found, 0, 1, 2, count=20_000)
    assert average.draws.mean(axis=0) == pytest.approx(drawn.mean(axis=0), rel=0.03)
    assert (average.draws.std(axis=0) < 0.8 * drawn.std(axis=0)).all()
    assert np.corrcoef(drawn[:, 0], drawn[:, 1])[0, 1] > np.corrcoef(average.draws[:, 0], average.draws[:, 1])[0, 1]


def test_families_of_two_conditions_stand_in_the_order_they_are_asked_for():
    found = lot_returns(made_sales(np.random.default_rng(5)), days=WARRANTY)
    rng = np.random.default_rng
    drawn = found.of_lot({0: "untested", 1: "salvage", 2: "untested"}, seller=None, count=20_000, rng=rng(1)).draws
    usual = shares(found, 0, 2, count=20_000)
    assert drawn[:, [0, 2]].mean(axis=0) == pytest.approx(usual.mean(axis=0), rel=0.03)
    assert drawn[:, 1].std() > drawn[:, 0].std()  # a condition never seen may be any


@pytest.mark.parametrize("seed", range(3))
def test_order_and_unit_of_time_do_not_matter_and_counts_are_expanded_rows(seed):
    sales = made_sales(np.random.default_rng(seed))
    first = lot_returns(sales, days=WARRANTY)
    turned = lot_returns(sales.sample(frac=1, random_state=seed), days=WARRANTY)
    slower = lot_returns(sales.assign(days=sales["days"] * 24), days=WARRANTY * 24)
    counted = lot_returns(sales.groupby([*KEYS, "days", "is_returned"], as_index=False)["sale_count"].sum(), days=WARRANTY)
    for other in (turned, slower, counted):
        assert (other.share, other.followed) == pytest.approx((first.share, first.followed))
        assert shares(other) == pytest.approx(shares(first), rel=1e-6)


def sales_of(*rows: tuple) -> pd.DataFrame:
    """Return sales of one family: lot, days, is_returned, sale_count."""
    told = pd.DataFrame(rows, columns=["lot", "days", "is_returned", "sale_count"])
    return told.assign(condition="untested", family=0, seller="Alder")


def test_what_the_record_cannot_tell_is_refused_in_words():
    assert lot_returns(sales_of(), days=90) is Because.NO_PAST_LOTS
    assert lot_returns(sales_of(("A", 90.0, False, 0)), days=90) is Because.NO_PAST_LOTS
    assert lot_returns(sales_of(("A", 30.0, False, 50), ("A", 3.0, True, 5)), days=90) is Because.NO_FOLLOW_UP
    many = pd.concat([sales_of(("A", 90.0, False, 3)).assign(family=family) for family in range(401)])
    assert lot_returns(many, days=90) is Because.TOO_LARGE
    for days in (0, -1, np.nan, np.inf):
        with pytest.raises(InputError):
            lot_returns(sales_of(("A", 90.0, False, 3)), days=days)
    for bad in (0.0, -2.0, np.nan, np.inf):
        with pytest.raises(InputError):
            lot_returns(sales_of(("A", bad, False, 3)), days=90)


@pytest.mark.parametrize(
    "rows",
    [
        [("A", 90.0, False, 20)],
        [("A", 90.0, False, 20), ("B", 30.0, False, 10)],
        [("A", 10.0, True, 4)],
        [("A", 10.0, True, 4), ("B", 5.0, False, 9)],
        [("A", 90.0, True, 4), ("B", 90.0, False, 9), ("B", 120.0, True, 1)],
        [("A", 90.0, False, 1)],
    ],
    ids=["none back", "none back, some watched in part", "all back", "all at risk back", "ties at the end", "one sale"],
)
def test_ends_give_shares_between_nothing_and_all(rows):
    found = lot_returns(sales_of(*rows), days=90)
    drawn = shares(found)
    assert np.isfinite(found.followed)
    assert ((drawn > 0) & (drawn < 1)).all()
    curve = KaplanMeierFitter().fit(*np.array([[days, back] for _, days, back, count in rows for _ in range(count)]).T)
    assert found.share == pytest.approx(1 - curve.predict(90), abs=1e-12)


def test_none_back_counts_a_sale_by_its_days():
    assert lot_returns(sales_of(("A", 90.0, False, 20), ("B", 30.0, False, 12)), days=90).followed == pytest.approx(24)
