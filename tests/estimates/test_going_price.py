"""What a unit usually costs: closed forms, coverage on made lots, and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipelines.errors import InputError
from pipelines.estimates.going_price import going_prices
from pipelines.vocabulary import Because


def lots(*rows: tuple) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["family", "condition", "price"])


def made(rng: np.random.Generator, *, count: int = 40, families: int = 10) -> tuple[pd.DataFrame, np.ndarray]:
    """Return made lots and the true price of each family in condition 0."""
    level, by_family, by_condition = rng.normal(2.5, 0.5), rng.normal(0, 0.4, families), rng.normal(0, 0.5, 3)
    family, condition = rng.integers(families, size=count), rng.integers(3, size=count)
    price = np.exp(level + by_family[family] + by_condition[condition] + rng.normal(0, 0.25, count))
    true = np.exp(level + by_family + by_condition[0])
    return pd.DataFrame({"family": family, "condition": condition, "price": price}), true


def test_many_lots_of_one_family_give_the_geometric_mean_with_students_limits():
    rng = np.random.default_rng(1)
    price = np.exp(rng.normal(3, 0.3, 200))
    (found,) = going_prices(lots(*(("A", "c", one) for one in price)), ["A"], condition="c")
    log = np.log(price)
    away = stats.t.ppf(0.975, 199) * log.std(ddof=1) / np.sqrt(200)
    assert found.lots == 200
    assert found.price.estimate == pytest.approx(np.exp(log.mean()), rel=0.002)
    assert np.log(found.price.high / found.price.low) / 2 == pytest.approx(away, rel=0.06)


def test_the_limits_hold_the_true_price():
    rng, inside, ratios = np.random.default_rng(2), [], []
    for _ in range(150):
        rows, true = made(rng)
        for one in going_prices(rows, list(range(10)), condition=0):
            if one.price.because is None:
                inside.append(one.price.low <= true[one.family] <= one.price.high)
                ratios.append(one.price.estimate / true[one.family])
    # families of one fleet share its level, so the count of fleets is the safer yardstick of luck
    assert np.mean(inside) == pytest.approx(0.95, abs=0.03)
    assert np.median(ratios) == pytest.approx(1, abs=0.02)


def test_one_odd_lot_is_drawn_towards_the_others_and_a_scale_only_scales():
    rows, _ = made(np.random.default_rng(3), count=80)
    odd = pd.concat([rows, lots(("odd", 0, 200.0))]).astype({"family": object})
    (found,) = going_prices(odd, ["odd"], condition=0)
    usual = going_prices(odd, list(range(10)), condition=0)
    assert max(one.price.estimate for one in usual) < found.price.estimate < 200
    (scaled,) = going_prices(odd.assign(price=3 * odd["price"]), ["odd"], condition=0)
    (shuffled,) = going_prices(odd.sample(frac=1, random_state=1), ["odd"], condition=0)
    assert scaled.price.estimate == pytest.approx(3 * found.price.estimate)
    assert shuffled.price.low == pytest.approx(found.price.low)


def test_a_condition_never_bought_is_told_by_the_others_with_wide_limits():
    rows, _ = made(np.random.default_rng(4), count=80)
    known, unseen = (going_prices(rows, [0], condition=one)[0].price for one in (0, "salvage"))
    assert unseen.high / unseen.low > 5 * known.high / known.low


def test_small_and_impossible_cases():
    assert going_prices(lots(), ["A"], condition="c")[0].price.because is Because.NOT_GIVEN
    one, other = going_prices(lots(("A", "c", 10.0)), ["A", "B"], condition="c")
    assert one.price.low < 10 < one.price.high
    assert (other.price.because, other.lots) == (Because.NOT_GIVEN, 0)
    same = going_prices(lots(*[("A", "c", 10.0)] * 5), ["A"], condition="c")[0].price
    assert same.estimate == pytest.approx(10)
    for price in (0.0, -1.0, np.nan, np.inf):
        with pytest.raises(InputError, match="price"):
            going_prices(lots(("A", "c", price)), ["A"], condition="c")


def test_a_thousand_families_have_a_price_each_from_their_own_lots():
    rows, true = made(np.random.default_rng(5), count=3000, families=1000)
    found = going_prices(rows, list(range(1000)), condition=0)
    lots = rows["family"].value_counts()
    assert [(one.family, one.lots) for one in found] == [(family, lots.get(family, 0)) for family in range(1000)]
    inside = [one.price.low <= true[one.family] <= one.price.high for one in found if one.lots]
    assert np.mean(inside) == pytest.approx(0.95, abs=0.03)
