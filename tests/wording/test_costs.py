"""Costs have names, groups and units, and a number says where it was found."""

from dataclasses import fields

import pytest

from pipelines.answers.lot_money import Source
from pipelines.decisions.bid import Fees, Swing
from pipelines.estimates.lot_fate import STAGES
from pipelines.estimates.lot_inputs import LotInputs
from pipelines.settings import Settings
from pipelines.wording.costs import COST, COST_GROUPS, box_label, origin_words, per_words, swing_range_words, swing_words

SETTINGS = {one.name: one.metadata["unit"] for one in fields(Settings)}


def test_every_cost_is_a_setting_and_stands_in_one_group():
    grouped = [name for group in COST_GROUPS.values() for name in group]
    assert sorted(grouped) == sorted(COST)
    assert set(COST) <= set(SETTINGS)
    assert {name for name, unit in SETTINGS.items() if "money" in unit} <= set(COST)


@pytest.mark.parametrize(
    ("name", "currency", "label", "per"),
    [
        ("labour_per_hour", "EUR", "Bench hour, EUR", "per hour"),
        ("labour_per_hour", None, "Bench hour, money", "per hour"),
        ("freight_out", "$", "Postage to the buyer, \\$", "per unit"),
        ("selling_fee_share", "EUR", "Selling fee, %", "of the resale price"),
        ("loss_limit", "EUR", "Highest chance of a loss, %", ""),
        ("warranty_days", "EUR", "Warranty given, days", ""),
    ],
)
def test_a_box_says_its_unit_short_and_below_it_what_it_is_per(name, currency, label, per):
    assert box_label(name, SETTINGS[name], currency) == label
    assert per_words(SETTINGS[name]) == per


def test_a_number_says_where_it_was_found():
    assert origin_words([]) == ""
    assert origin_words([Source("part_cost", "setting", 4.0, None, [])]) == "given by you"
    assert origin_words([Source("freight_out", "prices", 4.2, None, [])]) == "from the price list"
    record = [Source("part_cost", "record", 2.0, 30, ["Nolm"]), Source("part_cost", "record", 3.5, 12, ["Velm"])]
    assert origin_words(record) == "from the record (42 cases): Nolm 2; Velm 3.50"
    both = [Source("part_cost", "prices", 2.0, None, ["Nolm"]), Source("part_cost", "record", 3.5, 12, ["Velm"])]
    assert origin_words(both) == "from the price list and from the record (12 cases)"


def test_everything_that_moves_a_bid_has_a_name():
    names = [one.name for of in (LotInputs, Fees) for one in fields(of)] + [f"{stage}_share" for stage in STAGES]
    assert all(swing_words(name)[0].isupper() for name in names)
    assert len({swing_words(name) for name in names}) == len(names)


def test_the_ends_of_an_input_are_said_in_its_unit():
    assert swing_range_words(Swing("works_share", True, None, None, 1, 2)) == "10th to 90th percentile"
    said = swing_range_words(Swing("selling_fee", False, 0.08, 0.12, 2, 1)).replace("\u00a0", " ")
    assert said == "8 to 12 % (20 % less to 20 % more)"
    assert swing_range_words(Swing("labour_per_h", False, 16.8, 25.2, 2, 1)).startswith("16.80 to 25.20 (")
