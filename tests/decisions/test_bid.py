"""The highest bid: closed forms, its two demands, and what drives it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from pipelines.decisions.bid import Binding, Even, Fees, at_bid, break_even, highest_bid, sensitivity
from pipelines.errors import InputError
from pipelines.estimates.lot_fate import lot_fates
from pipelines.estimates.lot_inputs import Amount, Portion
from pipelines.estimates.lot_value import LotValues
from tests.estimates.lots import made_fates, plain_inputs

FEES = Fees(buyer_premium_share=0.1, tax_share=0.05, inbound_freight=20.0)
NO_FEES = Fees(0.0, 0.0, 0.0)


def worth(value: np.ndarray, cost: float = 0.0) -> LotValues:
    none = np.zeros(len(value))
    return LotValues(value + cost, none + cost, none, none, none)


def normal(count: int = 200_000, *, mean: float = 1000.0, sd: float = 200.0) -> np.ndarray:
    return np.random.default_rng(1).normal(mean, sd, count)


def bid(values: LotValues, *, fees: Fees = NO_FEES, loss_limit: float = 0.1, margin: float = 0.0, weights=None):
    return highest_bid(values, fees=fees, loss_limit=loss_limit, margin=margin, weights=weights)


def test_the_bid_is_the_quantile_of_the_value_less_fees():
    found = bid(worth(normal()), fees=FEES)
    price = norm.ppf(0.1, 1000, 200)
    assert found.highest_bid == pytest.approx((price - 20) / (1.1 * 1.05), abs=3)
    assert found.binding is Binding.LOSS_LIMIT
    assert found.at.price == pytest.approx(found.highest_bid * 1.1 * 1.05 + 20)
    assert found.at.loss_chance <= 0.1
    assert found.at.expected_profit == pytest.approx(1000 - price, abs=3)
    assert (found.at.low_profit, found.at.high_profit) == pytest.approx((0, 2 * (1000 - price)), abs=5)
    # 95 % of the quantile of 200,000 draws, by its density.
    density = norm.pdf(price, 1000, 200)
    assert found.bid_error == pytest.approx(1.96 * np.sqrt(0.09 / 200_000) / density / (1.1 * 1.05), rel=0.2)


def test_the_margin_binds_where_it_asks_for_more():
    found = bid(worth(normal(), cost=500.0), margin=0.3)
    assert found.highest_bid == pytest.approx((1000 - 0.3 * 500) / 1.3, abs=2)
    assert found.binding is Binding.MARGIN
    assert found.at.expected_profit == pytest.approx(0.3 * found.at.outlay)
    assert found.at.outlay == pytest.approx(found.highest_bid + 500)
    assert found.at.loss_chance < 0.1
    assert found.bid_error == pytest.approx(1.96 * 200 / np.sqrt(200_000) / 1.3, rel=0.02)


def test_in_every_set_of_draws_at_most_the_limit_loses_and_a_little_more_would_break_it():
    for count in (7, 100, 999):
        for limit in (0.05, 0.1, 0.33):
            values = worth(normal(count))
            found = bid(values, loss_limit=limit)
            assert found.at.loss_chance <= limit
            more = at_bid(values, found.highest_bid + 1e-6, fees=NO_FEES)
            assert more.loss_chance > limit - 1e-12 or found.binding is Binding.MARGIN


def test_a_lot_that_loses_even_for_nothing_gets_no_bid_and_its_reason():
    found = bid(worth(normal(mean=100.0)))
    assert (found.highest_bid, found.binding, found.at.bid) == (None, Binding.LOSS_LIMIT, 0.0)
    assert found.at.loss_chance == pytest.approx(norm.cdf(-0.5), abs=0.01)
    poor = bid(worth(np.full(100, 10.0), cost=900.0), margin=0.5)
    assert (poor.highest_bid, poor.binding) == (None, Binding.MARGIN)
    certain = bid(worth(np.full(100, 10.0)))
    assert (certain.highest_bid, certain.at.expected_profit, certain.at.loss_chance) == (10.0, 0.0, 0.0)


def test_a_stricter_limit_and_a_higher_margin_never_raise_the_bid():
    values = worth(normal(5000), cost=300.0)
    by_limit = [bid(values, loss_limit=one).highest_bid for one in (0.01, 0.05, 0.1, 0.3)]
    by_margin = [bid(values, margin=one).highest_bid for one in (0.0, 0.1, 0.3, 0.6)]
    assert by_limit == sorted(by_limit)
    assert by_margin == sorted(by_margin, reverse=True)


def test_weights_of_a_test_count_as_draws_repeated():
    value, weights = normal(3000), np.random.default_rng(2).integers(0, 4, 3000)
    repeated = bid(worth(np.repeat(value, weights)), margin=0.1)
    weighted = bid(worth(value), margin=0.1, weights=weights.astype(float))
    assert weighted.highest_bid == pytest.approx(repeated.highest_bid)
    assert vars(weighted.at) == pytest.approx(vars(repeated.at), abs=1e-9)


def test_break_even_is_where_the_expected_profit_is_nought():
    units, earned = np.array([[6.0, 2, 1, 3], [4, 1, 1, 2]]), np.array([[20.0, 15, 10, -5], [30, 25, 20, -4]])
    found = break_even(units, earned, price=150.0)
    assert found.even is Even.REACHED
    good = units.copy()
    good[:, :3] *= found.good_share * 20 / units[:, :3].sum()
    good[:, 3] = (1 - found.good_share) * units.sum(axis=1)
    assert (good * earned).sum() == pytest.approx(150.0)
    assert break_even(units, earned, price=10_000.0).even is Even.NEVER_EARNS
    assert break_even(units, earned + 30, price=1.0).even is Even.ALWAYS_EARNS
    assert break_even(units * [0, 0, 0, 1], earned, price=5.0).good_share is None


@pytest.fixture(scope="module")
def swings():
    fates = lot_fates(made_fates(np.random.default_rng(3), lots=30))
    inputs = plain_inputs(
        resale=Amount(np.array([30.0, 28, 29, 0]), np.array([1.0, 1, 1, 0]), 6.0),
        returned=Portion(0.05, 60),
        other_fault=Portion(0.05),
    )
    found = sensitivity(
        fates, {0: 20, 1: 10}, inputs, condition=0, seller=1, fees=FEES, loss_limit=0.1, margin=0.0, seed=4, count=2000
    )  # fmt: skip
    return {one.name: one for one in found}, found


def test_what_drives_the_bid_is_sorted_and_moves_it_the_right_way(swings):
    by_name, found = swings
    assert [one.size for one in found] == sorted((one.size for one in found), reverse=True)
    for name in ("resale", "works_share", "harvest"):
        assert by_name[name].bid_at_low < by_name[name].bid_at_high
    for name in ("labour_per_h", "bench_h", "returned", "return_cost", "inbound_freight", "buyer_premium_share", "other_fault"):
        assert by_name[name].bid_at_low > by_name[name].bid_at_high
    assert by_name["returned"].is_estimated
    assert not by_name["labour_per_h"].is_estimated
    assert (by_name["labour_per_h"].low, by_name["labour_per_h"].high) == pytest.approx((9.6, 14.4))
    assert by_name["resale"].low is None


def test_with_the_same_luck_freight_moves_the_bid_by_exactly_its_change(swings):
    one = swings[0]["inbound_freight"]
    assert one.bid_at_low - one.bid_at_high == pytest.approx(8 / (1.1 * 1.05))


@pytest.mark.parametrize(("limit", "margin"), [(0, 0), (1, 0), (np.nan, 0), (0.1, -0.1), (0.1, np.nan), (0.1, np.inf)])
def test_an_impossible_limit_or_margin_is_refused(limit, margin):
    with pytest.raises(InputError):
        bid(worth(normal(10)), loss_limit=limit, margin=margin)


def test_impossible_fees_and_bids_are_refused():
    for fees in ((-0.1, 0, 0), (0, np.nan, 0), (0, 0, -1)):
        with pytest.raises(InputError):
            Fees(*fees)
    with pytest.raises(InputError):
        at_bid(worth(normal(10)), -1.0, fees=FEES)
    assert at_bid(worth(normal(10)), 0.0, fees=FEES).price == 20.0
