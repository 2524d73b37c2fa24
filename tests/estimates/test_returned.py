"""Returns by days since the sale: closed forms, lifelines, a simulation of the longest warranty, and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.proportion import wilson
from pipelines.estimates.returned import LongestWarranty, returned_shares
from pipelines.vocabulary import Because
from tests.estimates.spells import table

HEAD = "days is_returned is_fault sale_count\n"


def only(rows: str, **words):
    (found,) = returned_shares(table(HEAD + rows), by=[], **words)
    return found


def made(
    rng: np.random.Generator, count: int, *, daily: float = 0.002, warranties: tuple[int, ...] = (30, 60, 90)
) -> pd.DataFrame:
    """Return sales that come back at a constant rate, seven in ten for a fault, some sold only lately."""
    back = np.maximum(np.ceil(rng.exponential(1 / daily, count)), 1.0)
    until = np.minimum(rng.choice(warranties, count), rng.integers(5, 400, count))
    is_returned = back <= until
    sales = pd.DataFrame({
        "days": np.where(is_returned, back, until).astype(float), "is_returned": is_returned,
        "is_fault": is_returned & (rng.random(count) < 0.7), "sale_count": 1,
    })  # fmt: skip
    return sales.assign(family=rng.choice(["A", "B", "C"], count))


def test_with_all_followed_it_is_the_plain_share():
    found = only("20 True True 4\n50 True False 2\n90 False False 34")
    assert found.within(90).estimate == pytest.approx(6 / 40)
    assert found.within(49).estimate == pytest.approx(4 / 40)
    assert found.for_fault_within(90).estimate == pytest.approx(4 / 40)
    assert (found.sales, found.returned, found.for_fault, found.told_to) == (40, 6, 4, 90)
    assert (found.watched(20), found.watched(21), found.watched(90), found.watched(91)) == (40, 36, 34, 0)


def test_a_recent_sale_counts_as_long_as_it_was_watched():
    # By hand: 100 watched at 10, of whom 5 come back; 60 are only 20 days old; of the 35 left 7 come back on day 40.
    found = only("10 True True 5\n20 False False 60\n40 True True 7\n90 False False 28")
    assert found.within(90).estimate == pytest.approx(1 - 0.95 * 28 / 35)
    assert found.within(90).estimate > 12 / 100


def test_before_the_first_return_the_limit_is_wilsons():
    found = only("30 True False 1\n90 False False 59")
    limits = wilson(0, 60)
    assert (found.within(29).estimate, found.within(29).high) == (0, pytest.approx(limits.high))
    assert found.for_fault_within(90).high == pytest.approx(wilson(0, 59).high)
    every = only("5 True True 20", min_watched=1)
    assert (every.within(5).estimate, every.within(5).low) == (1, pytest.approx(wilson(20, 20).low))


def test_curves_are_those_of_lifelines():
    from lifelines import KaplanMeierFitter

    sales = made(np.random.default_rng(1), 400)
    (found,) = returned_shares(sales, by=[])
    curve = KaplanMeierFitter().fit(sales["days"], sales["is_returned"])
    limits = curve.confidence_interval_.to_numpy()
    for day in (7, 30, 60, 90):
        one, row = found.within(day), np.searchsorted(curve.survival_function_.index, day, side="right") - 1
        expected = (1 - float(curve.predict(day)), 1 - limits[row, 1], 1 - limits[row, 0])
        assert (one.estimate, one.low, one.high) == pytest.approx(expected, rel=1e-6)
        other = found.curve.merge(found.fault_curve, on="at")
        assert (other["returned_share_x"] >= other["returned_share_y"] - 1e-12).all()


def test_groups_are_those_of_each_alone_and_rows_may_come_in_any_order():
    sales = made(np.random.default_rng(2), 600)
    split = returned_shares(sales.sample(frac=1, random_state=3), by=["family"])
    assert [one.by for one in split] == [("A",), ("B",), ("C",)]
    counted = sales.groupby(["family", "days", "is_returned", "is_fault"], as_index=False)["sale_count"].sum()
    for one, same in zip(split, returned_shares(counted, by=["family"]), strict=True):
        (alone,) = returned_shares(sales[sales["family"] == one.by[0]], by=[])
        assert one.within(60) == alone.within(60) == same.within(60)
        assert one.longest(0.1) == alone.longest(0.1) == same.longest(0.1)


def test_the_longest_warranty_is_the_last_day_within_the_share():
    found = only("10 True True 5\n40 True True 5\n90 False False 90")
    assert found.longest(0.05).likely_days == 39
    assert found.longest(0.04).likely_days == 9
    assert found.longest(0.1) == LongestWarranty(90, found.longest(0.1).sure_days, True, False)
    assert found.longest(1) == LongestWarranty(90, 90, True, True)
    sure = found.longest(0.15).sure_days
    assert found.within(sure).high <= 0.15 < found.within(sure + 1).high
    assert found.longest(0).likely_days == 9
    assert found.longest(0).sure_days == 0


def test_a_return_on_the_day_of_the_sale_leaves_no_warranty_that_is_free():
    assert only("0.5 True True 2\n90 False False 48").longest(0.03).likely_days == 0


def test_the_few_with_a_long_warranty_tell_nothing_of_it():
    found = only("20 True True 30\n90 False False 370\n365 False False 9")
    assert found.told_to == 90
    assert found.within(91).because is Because.TOO_FEW_AT_RISK
    assert found.longest(0.5).likely_days == 90


@pytest.mark.parametrize("sales", [60, 400])
def test_what_is_sure_is_kept_in_nearly_all_fleets(sales):
    rng, allowed, rate = np.random.default_rng(5), 0.08, 0.002
    true_days = int(-np.log(1 - allowed) / rate)
    found = [returned_shares(made(rng, sales, daily=rate), by=[])[0].longest(allowed) for _ in range(300)]
    too_long = np.mean([one.sure_days > true_days for one in found])
    assert too_long <= 0.025 + 2.6 * np.sqrt(0.025 * 0.975 / 300)
    if sales == 400:
        assert np.median([one.likely_days for one in found]) == pytest.approx(true_days, abs=4)


def test_small_and_impossible_cases():
    assert returned_shares(table(HEAD.strip()).astype({"days": float}), by=[]) == []
    few = only("20 True True 1\n90 False False 3")
    assert (few.told_to, few.longest(0.5).likely_days, few.longest(0.5).because) == (0, None, Because.TOO_FEW_AT_RISK)
    assert few.within(1).because is Because.TOO_FEW_AT_RISK
    for rows in ("0 False False 1", "-1 False False 1", "5 False True 1"):
        with pytest.raises(InputError):
            only(rows)
    with pytest.raises(InputError, match="none"):
        few.within(0)
    with pytest.raises(InputError, match="share"):
        few.longest(-0.1)


def test_a_thousand_groups_are_answered():
    sales = pd.concat([table(HEAD + "20 True True 1\n60 False False 12").assign(family=number) for number in range(1000)])
    found = returned_shares(sales, by=["family"])
    assert len(found) == 1000
    assert {one.told_to for one in found} == {60}
