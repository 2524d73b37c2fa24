"""Where each cost and price of a lot is taken from, and that nothing is made up for those that stand nowhere."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

from pipelines.answers.lot_gathering import Offer
from pipelines.answers.lot_money import lot_money
from pipelines.settings import Settings
from tests.answers.lot_records import GIVEN, record

DAY = pd.Timestamp("2025-06-01")


def listed(*rows: tuple[str, str, float]) -> list[tuple]:
    return [(kind, key, amount, DAY, True) for kind, key, amount in rows]


def sold(
    family: str, grade: str | None, count: int, price: float, *, recent: int = 0, recent_price: float | None = None
) -> tuple:
    return (family, "works", grade, count, price, 2.0, price, DAY, recent, recent_price, 1.0 if recent > 1 else None)


def work(family: str, fate: str, count: int, hours: float, *, modules: float = 0.0, parts: float = 0.0) -> tuple:
    return (family, fate, count, count, hours, 0.1, 0.0, modules, 0.0, count, parts, 0.0, count, 0.3, 0.1)


def gathered(of=None, *, units: int | None = 10, families: tuple[str, ...] = ("Nolm",), offer=None, **settings):
    return lot_money(record() if of is None else of, list(families), Settings(**settings), units=units, offer=offer)


def wanted(money) -> dict[str, list[str]]:
    return {one.name: one.of for one in money.missing}


def without(*names: str) -> dict[str, object]:
    return {name: value for name, value in GIVEN.items() if name not in names}


def test_of_an_empty_record_everything_is_asked_for_and_nothing_is_made_up():
    money = gathered()
    # a return costs nothing to ask for twice: without days of warranty the share of returns waits
    assert set(wanted(money)) == set(GIVEN) - {"return_share"}
    assert money.inputs is None
    assert money.fees is None
    known = {one.name: one.metadata for one in fields(Settings)}
    assert all(one.unit == known[one.name]["unit"] and one.help == known[one.name]["help"] for one in money.missing)


def test_what_is_given_is_used_and_said():
    money = gathered(**GIVEN)
    assert money.missing == []
    assert {one.origin for one in money.sources} == {"setting"}
    assert (money.inputs.resale.mean, money.inputs.labour_per_h.mean, money.inputs.selling_fee.share) == (30.0, 20.0, 0.1)
    assert np.array_equal(money.inputs.consumables.mean, [[0, 1, 1, 1]])
    assert money.fees.price(100) == 100
    assert money.warranty_days == 0


def test_returns_of_an_offered_lot_are_told_by_family_and_seller_and_differ_from_lot_to_lot():
    rows = [
        (f"L{lot}", seller, "untested", family, "works", days, is_back, None, count)
        for lot, (family, seller, back) in enumerate(
            [("Nolm", "Alder", 1), ("Nolm", "Birch", 2), ("Nolm", "Alder", 0), ("Velm", "Birch", 9), ("Velm", "Birch", 14)] * 3
        )
        for days, is_back, count in ((90.0, False, 40 - back), (12.0, True, back))
    ]
    of, words = record(returns=rows), {**without("return_share"), "warranty_days": 90}
    offer = Offer({"Nolm": "untested", "Velm": "untested"}, "Birch")
    money = gathered(of, families=("Nolm", "Velm"), offer=offer, **words)
    nolm, velm = money.inputs.returned.mean.ravel()
    assert nolm < 0.1 < 0.2 < velm
    any_seller, average = (
        gathered(of, families=("Nolm", "Velm"), offer=Offer(offer.conditions, is_average=one), **words).inputs.returned
        for one in (False, True)
    )
    assert any_seller.mean.ravel() == pytest.approx(average.mean.ravel(), rel=0.05)
    assert (any_seller.draws.std(axis=0) > average.draws.std(axis=0)).all()
    told = [(one.amount, one.count, one.of) for one in money.sources if one.name == "return_share"]
    assert told == [(pytest.approx(nolm), 360, ["Nolm"]), (pytest.approx(velm), 240, ["Velm"])]
    pooled = gathered(of, families=("Nolm", "Velm"), **words).inputs.returned
    assert pooled.share == pytest.approx(78 / 600)
    given = gathered(of, families=("Nolm", "Velm"), offer=offer, **{**words, "return_share": 0.07}).inputs.returned
    assert (given.share, given.of_count) == (0.07, None)


def test_fees_are_not_asked_for_where_no_lot_is_bought():
    money = gathered(units=None, **without("buyer_premium_share", "tax_share", "inbound_freight"))
    assert money.missing == []
    assert money.fees is None


@pytest.mark.parametrize(
    ("setting", "kind", "key", "amount", "field", "used"),
    [
        ("labour_per_hour", "labour_per_hour", "bench", 21.0, "labour_per_h", 21.0),
        ("part_cost", "part", "NOLM", 2.5, "part_cost", 2.5),
        ("selling_fee_share", "selling_fee_pct", "market", 9.0, "selling_fee", 0.09),
        ("freight_out", "freight_out", "bench", 4.2, "freight_out", 4.2),
        ("harvest_value", "resale", "Nolm/parts", 6.8, "harvest", 6.8),
    ],
)
def test_the_price_list_is_used_where_no_setting_is_given(setting, kind, key, amount, field, used):
    of = record(prices=listed((kind, key, amount)))
    money = gathered(of, **without(setting))
    one = getattr(money.inputs, field)
    assert np.ravel(one.share if setting == "selling_fee_share" else one.mean) == pytest.approx(used)
    assert next(each for each in money.sources if each.name == setting).origin == "prices"
    given = gathered(of, **GIVEN)
    assert next(each for each in given.sources if each.name == setting).origin == "setting"


def test_a_price_of_another_family_is_not_taken_and_two_prices_are_asked_about():
    of = record(prices=listed(("part", "Velm", 2.5), ("labour_per_hour", "north", 20), ("labour_per_hour", "south", 22)))
    assert wanted(gathered(of, **without("part_cost", "labour_per_hour"))) == {"part_cost": ["Nolm"], "labour_per_hour": []}


def test_sales_go_before_the_price_list_and_those_of_the_last_year_before_older_ones():
    prices = listed(("resale", "Nolm/A", 99), ("resale", "Velm/A", 50), ("resale", "Velm/B", 40), ("resale", "Velm/parts", 5))
    few = record(resale=[sold("Nolm", "A", 30, 20), sold("Nolm", "B", 10, 16, recent=3, recent_price=5)], prices=prices)
    money = gathered(few, families=("Nolm", "Velm"), **without("resale_price"))
    assert np.ravel(money.inputs.resale.mean[0, 0]) == pytest.approx(19, abs=0.2)
    # of a family never sold: its listed prices by the grades of the others' sales
    assert np.ravel(money.inputs.resale.mean[1]) == pytest.approx(47.5)
    assert np.ravel(money.inputs.resale.unit_sd[1]) == pytest.approx(np.sqrt(0.75 * 2.5**2 + 0.25 * 7.5**2))
    many = record(resale=[sold("Nolm", "A", 30, 20, recent=12, recent_price=25)])
    assert gathered(many, **without("resale_price")).inputs.resale.mean[0, 0] == pytest.approx(25, abs=0.2)


@pytest.mark.parametrize(
    ("prices", "found"),
    [
        ([("resale", "Nolm", 33)], 33.0),
        ([("resale", "Nolm/A", 33), ("resale", "Nolm/parts", 3)], 33.0),
        ([("resale", "Nolm/A", 33), ("resale", "Nolm/B", 30)], None),
        ([("resale", "Nolm/parts", 3)], None),
    ],
)
def test_without_sales_the_list_is_taken_only_where_it_needs_no_guess_of_grades(prices, found):
    money = gathered(record(prices=listed(*prices)), **without("resale_price"))
    if found is None:
        assert wanted(money) == {"resale_price": ["Nolm"]}
    else:
        assert np.ravel(money.inputs.resale.mean) == pytest.approx(found)


def test_bench_work_comes_from_the_record_and_a_family_without_any_borrows_it():
    rows = [
        work("Nolm", "works", 40, 0.2),
        work("Nolm", "cleaned", 20, 0.5),
        work("Nolm", "new_part", 20, 0.8, modules=1.2, parts=6.0),
    ]
    of = record(work=rows)
    money = gathered(of, families=("Nolm", "Velm"), **without("bench_hours_per_unit", "part_cost", "consumables_per_clean"))
    assert wanted(money) == {"part_cost": ["Velm"]}
    money = gathered(of, families=("Nolm", "Velm"), **without("bench_hours_per_unit", "consumables_per_clean"))
    assert money.borrowed == ["Velm"]
    own, others = money.inputs.bench_h.mean
    assert own[:3] == pytest.approx([0.2, 0.5, 0.8], rel=0.05)
    assert others[:3] == pytest.approx([0.2, 0.5, 0.8], rel=0.05)
    assert (money.inputs.bench_h.mean_se[1, :3] > 3 * money.inputs.bench_h.mean_se[0, :3]).all()
    paid = gathered(of, **without("part_cost"))
    assert float(paid.inputs.part_cost.mean[0, 0]) == pytest.approx(5.0)
    assert paid.inputs.parts_per_unit.mean[0, 2] == pytest.approx(1.2)
    assert paid.inputs.parts_per_unit.unit_sd[0, 2] == pytest.approx(np.sqrt(0.2 * 0.8), rel=0.2)


def test_the_warranty_is_the_usual_one_and_returns_are_counted_as_far_as_they_were_watched():
    rows = [
        ("L1", "Alder", "untested", "Nolm", "works", 90.0, False, None, 80),
        ("L1", "Alder", "untested", "Nolm", "works", 10.0, True, "drift", 20),
        ("L1", "Alder", "untested", "Nolm", "works", 5.0, False, None, 900),
    ]
    of = record(returns=rows, warranties=[(90, 60), (30, 5)])
    money = gathered(of, **without("warranty_days", "return_share"))
    assert money.warranty_days == 90
    # the 900 sales watched for 5 days say nothing of what comes back at day 10
    assert money.inputs.returned.share == pytest.approx(0.2)
    assert money.inputs.returned.of_count == pytest.approx(100)
    assert [(one.amount, one.count, one.of) for one in money.sources if one.name == "return_share"] == [
        (pytest.approx(0.2), 1000, [])
    ]  # fmt: skip
    assert wanted(gathered(of, **{**without("return_share"), "warranty_days": 180})) == {"return_share": []}
    assert gathered(of, **{**without("return_share", "return_cost"), "warranty_days": 0}).inputs.returned.share == 0


def test_fees_are_the_usual_ones_of_past_lots_and_a_price_on_each_line_of_a_mixed_lot_counts_once():
    rows = [
        ("L1", "Nolm", True, DAY, 10, 100.0, 12.0, 20.0, 5.6, False),
        ("L2", "Nolm", True, DAY, 10, 100.0, 12.0, 30.0, 5.6, True), ("L2", "Velm", True, DAY, 20, 100.0, 12.0, 30.0, 5.6, True),
        ("L3", "Nolm", True, DAY, 5, 0.0, None, None, None, False),
        ("L0", "Nolm", True, pd.Timestamp("2023-01-01"), 10, 100.0, 90.0, 900.0, 80.0, False),
    ]  # fmt: skip
    money = gathered(record(lines=rows), units=30, **without("buyer_premium_share", "tax_share", "inbound_freight"))
    assert money.fees.buyer_premium_share == pytest.approx(0.12)
    assert money.fees.tax_share == pytest.approx(0.05)
    assert money.fees.inbound_freight == pytest.approx(30 * (20 / 10 + 30 / 30) / 2)
    assert {one.count for one in money.sources if one.origin == "record"} == {2}
