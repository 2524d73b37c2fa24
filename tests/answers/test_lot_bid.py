"""The answer to a bid: its numbers against each other and against closed forms, its keys against the page, its refusals."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from math import comb

import numpy as np
import pytest

from pipelines.answers import ask
from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.lot_text import bid_csv, bid_text
from pipelines.estimates.estimate import Estimate
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Fate
from tests.answers.lot_records import GIVEN, bid, lots_of, record
from tests.answers.test_contract import ESTIMATE, WORD, keys, rows, section
from tests.pipeline.made_fleet import loaded_fleet

#: The page's words of a bid that stand for values.
VALUES = {"null", "not_given"}


def units(answer: LotBid, fate: Fate | None, family: str | None = None) -> Estimate:
    return next(one.units for one in answer.fates if (one.family, one.fate) == (family, fate))


def test_the_same_question_gives_the_same_answer():
    assert bid().to_dict() == bid().to_dict()


def test_the_bid_loses_in_the_share_of_cases_allowed_and_a_higher_one_in_more():
    answer = bid()
    at = answer.bid.at
    assert answer.bid.binding == "loss_limit"
    assert 0.05 < at.loss_chance <= 0.1
    assert answer.value_quantiles[9] == pytest.approx(at.price, rel=1e-3)
    assert bid(price=f"{at.bid + 0.01}").asking.loss_chance > 0.1
    dearer = bid(price=f"{at.bid + 20}")
    assert dearer.asking.loss_chance > 0.1
    assert dearer.asking.expected_profit == pytest.approx(at.expected_profit - 20)
    assert dearer.bid == answer.bid


def test_where_every_unit_is_told_and_sold_alike_the_value_is_worked_out_by_hand():
    """All units of 200 lots are scrap but for a hair: a unit brings its parts less its work and its clean."""
    of = record(lots_of(*[("Nolm", "untested", "Alder", 0, 0, 0, 40)] * 200))
    answer = bid(of, mix="Nolm:10")
    assert units(answer, Fate.SCRAP).estimate > 9.9
    # by the unit: 2 of harvest, less half an hour of 20 and a clean of 1
    assert answer.expected.value.estimate == pytest.approx(10 * (2 - 0.5 * 20 - 1), abs=2)
    assert answer.bid.highest_bid is None
    assert answer.break_even.can_be_sold.even == "reached"
    assert answer.break_even.can_be_sold.good_share == pytest.approx(9 / (9 + 30 * 0.9 - 3 - 0.5 * 20), abs=0.05)
    assert answer.sentence.startswith("Do not bid: even for nothing the lot loses money in")


def test_fees_are_taken_off_the_bid():
    free, fees = bid(), bid(settings={**GIVEN, "buyer_premium_share": 0.25, "inbound_freight": 30.0})
    assert fees.bid.highest_bid == pytest.approx((free.bid.highest_bid - 30) / 1.25)
    assert fees.bid.at.price == pytest.approx(free.bid.at.price)


def test_a_margin_lowers_the_bid_and_says_so():
    answer = bid(settings={**GIVEN, "margin": 0.5})
    assert answer.bid.binding == "margin"
    assert answer.bid.highest_bid < bid().bid.highest_bid
    assert answer.bid.at.expected_profit == pytest.approx(0.5 * answer.bid.at.outlay)
    assert "your margin of 50" in answer.sentence


def test_good_tests_raise_the_bid_and_bad_ones_lower_it():
    before = bid()
    good, bad = bid(tested="8", good="8"), bid(tested="8", good="1")
    assert bad.bid.at.bid < before.bid.highest_bid < good.bid.highest_bid
    assert good.test.bid_before == bad.test.bid_before == before.bid.highest_bid
    assert good.test.found_at_most_chance["Nolm"] == 1
    assert bad.test.found_at_least_chance["Nolm"] > 0.95
    assert "Before the test (8 of 8 units worked) it was" in good.sentence
    assert good.warnings == []
    assert "so few working units of Nolm" in bid(tested="20", good="1").warnings[0]


def test_a_whole_lot_that_was_tested_holds_what_was_found():
    answer = bid(tested="20", good="11")
    told = units(answer, Fate.WORKS)
    assert (told.estimate, told.low, told.high) == (pytest.approx(11), 11, 11)
    assert answer.test.works.estimate == 11


def test_a_test_that_no_lot_would_show_is_refused_in_words():
    of = record(lots_of(*[("Nolm", "untested", "Alder", 0, 0, 0, 40)] * 200))
    answer = bid(of, mix="Nolm:200", tested="200", good="199")
    assert answer.because is Because.TOO_FEW_DRAWS
    assert "hardly any lot" in answer.sentence
    assert answer.bid is None
    assert_plain(answer)


def test_a_mix_is_told_by_family_and_its_test_by_the_family_tested():
    answer = bid(mix="Nolm:10,Velm:8", tested="Velm:6", good="Velm:0")
    before = bid(mix="Nolm:10,Velm:8")
    for fate in (*(fate for fate in Fate if fate is not Fate.OPEN), None):
        parts = [units(answer, fate, family).estimate for family in ("Nolm", "Velm", None)]
        assert parts[0] + parts[1] == pytest.approx(parts[2])
    assert units(answer, Fate.WORKS, "Velm").estimate < units(before, Fate.WORKS, "Velm").estimate
    # the families of a lot share its luck
    assert units(answer, Fate.WORKS, "Nolm").estimate < units(before, Fate.WORKS, "Nolm").estimate


def test_other_faults_are_lost_to_the_sale():
    answer, lossy = bid(), bid(settings={**GIVEN, "other_fault_share": 0.3})
    assert lossy.expected.sold.estimate == pytest.approx(0.7 * answer.expected.sold.estimate, rel=0.01)
    assert lossy.expected.value.estimate < answer.expected.value.estimate


def test_without_a_cost_nothing_is_bid_but_the_split_is_told():
    answer = bid(settings={name: value for name, value in GIVEN.items() if name not in ("return_cost", "other_fault_share")} | {
        "return_share": 0.1})  # fmt: skip
    assert (answer.because, answer.bid, answer.expected) == (Because.NOT_GIVEN, None, None)
    assert [one.name for one in answer.asked_for] == ["other_fault_share"]
    assert units(answer, Fate.WORKS).estimate > 0
    assert answer.sentence.startswith("Before a bid can be told, give: ")
    assert_plain(answer)


def test_the_text_points_to_past_lots_where_there_are_any():
    assert "`stickfleet answer past-lots`" in bid_text(bid())
    assert "past-lots" not in bid_text(bid(replace(record(lots_of()), log_families=["Nolm"])))


def test_without_a_past_lot_nothing_is_bid():
    empty = replace(record(lots_of()), log_families=["Nolm"])
    answer = bid(empty)
    assert answer.because is Because.NO_PAST_LOTS
    assert answer.fates == []
    assert "no unit of a past lot is finished" in answer.sentence
    assert_plain(answer)


def test_what_is_borrowed_is_said_and_makes_the_limits_wider():
    own = bid(mix="Nolm:50", condition="untested")
    new = bid(mix="Orlim:50", condition="salvage", new_family="yes", seller="Cedar")
    assert [(one.what, one.name) for one in new.rests_on.borrowed] == [
        ("condition", "salvage"), ("family", "Orlim"), ("seller", "Cedar"),
    ]  # fmt: skip
    assert len(new.warnings) == 3
    first, second = (units(one, Fate.WORKS) for one in (own, new))
    assert second.high - second.low > first.high - first.low
    assert new.seller is None
    assert "One past lot" in bid(record(lots_of(("Nolm", "tested", "Alder", 5, 1, 1, 1)))).warnings[0].replace("Only one", "One")


def test_the_seller_is_shown_with_his_own_lots():
    answer = bid(seller="ALDER")
    assert (answer.seller.name, answer.seller.lots, answer.seller.works, answer.seller.units) == ("Alder", 3, 39, 60)
    assert answer.seller.odds_ratio.low < 1 < answer.seller.odds_ratio.high


def test_arrival_claims_for_a_lot_worse_than_stated_and_for_what_did_not_come():
    answer = bid(price="100", received="18", tested="10", good="2", stated_good_share="0.9", refund="95")
    assert answer.arrival.action in ("claim", "return")
    assert answer.arrival.why == "worse_than_stated"
    # a lot of 18 with 17 working shows at most 2 of 10 with no chance at all
    assert answer.arrival.stated_p == pytest.approx(sum(comb(17, k) * comb(1, 10 - k) for k in range(3)) / comb(18, 10))
    assert (answer.arrival.missing_count, answer.arrival.missing_claim) == (2, pytest.approx(10))
    assert bid().arrival is None


def test_a_lot_that_has_come_is_told_by_the_units_that_came():
    answer, smaller = bid(price="100", received="10"), bid(mix="Nolm:10", price="100")
    assert answer.arrived_mix == {"Nolm": 10}
    assert answer.fates == smaller.fates
    assert answer.expected.value == smaller.expected.value
    assert answer.expected.per_unit.estimate == pytest.approx((answer.expected.value.estimate - 100) / 10)
    assert answer.asking == smaller.asking
    assert (answer.bid, answer.testing, bid(received="10", is_brief=False).sensitivity) == (None, None, None)
    assert "Bid at most" not in answer.sentence
    assert "the 10 units that came are expected to be worth" in answer.sentence.replace("\u00a0", " ")
    assert answer.warnings == ["Of 20 units bought 10 came; all figures are of those."]
    # a whole lot is told as before it came, and what it needs to pay is that of its part of the price
    assert bid(price="100", received="20").expected.value == bid(price="100").expected.value
    assert bid_text(answer).count("did not come") == 1


@pytest.mark.parametrize(
    ("case", "came"),
    [
        ({"mix": "Nolm:10,Velm:10", "received": "10"}, {"Nolm": 5, "Velm": 5}),
        ({"mix": "Nolm:10,Velm:5", "received": "10"}, {"Nolm": 7, "Velm": 3}),
        ({"mix": "Nolm:10,Velm:8", "received": "9", "tested": "Velm:6", "good": "Velm:0"}, {"Nolm": 3, "Velm": 6}),
        ({"mix": "Nolm:19,Velm:1", "received": "2"}, {"Nolm": 2}),
    ],
)
def test_units_missing_of_a_mix_are_taken_from_the_untested_ones_alike(case, came):
    answer = bid(**case)
    assert answer.arrived_mix == came
    assert "of each family alike" in answer.warnings[-1] + answer.warnings[0]
    assert sum(one.units.estimate for one in answer.fates if one.family is None and one.fate is not None) == pytest.approx(
        sum(came.values())
    )
    assert_plain(answer)


def test_a_lot_of_which_nothing_came_is_claimed_for():
    answer = bid(price="100", received="0")
    assert answer.sentence.replace("\u00a0", " ") == (
        "Nothing came: claim for all 20 units, 100 EUR of the price (premium and tax left out)."
    )
    assert (answer.fates, answer.expected, answer.arrived_mix, answer.because) == ([], None, {}, None)
    assert_plain(answer)
    assert bid(received="0", settings={}).asked_for == []


def test_the_bench_is_judged_where_its_free_hours_are_given():
    answer = bid(settings={**GIVEN, "bench_hours_free": 5.0, "bench_weeks": 2.0})
    assert answer.expected.bench_h.estimate == pytest.approx(20 * 0.5)
    assert (answer.capacity.weeks.estimate, answer.capacity.fit_chance) == (pytest.approx(2), 1)
    assert bid().capacity.because is Because.NOT_GIVEN


def test_the_full_answer_says_what_drives_the_bid_and_how_many_to_test():
    answer = bid(is_brief=False)
    sizes = [one.size for one in answer.sensitivity]
    assert sizes == sorted(sizes, reverse=True)
    assert {"resale", "works_share", "inbound_freight"} <= {one.name for one in answer.sensitivity}
    resale = next(one for one in answer.sensitivity if one.name == "resale")
    assert (resale.low, resale.high) == (pytest.approx(24), pytest.approx(36))
    assert answer.testing.cost_per_test == pytest.approx(10)
    assert bid(tested="20", good="11", is_brief=False).testing is None
    assert bid().sensitivity is None


def assert_plain(answer: LotBid) -> None:
    """The JSON is JSON, and what a person reads holds no nan, None or inf."""
    json.dumps(answer.to_dict(), allow_nan=False)
    said = [bid_text(answer), bid_csv(answer), answer.sentence, *answer.warnings]
    assert not re.search(r"\b(nan|None|inf|NaN|NaT|null)\b", "\n".join(said)), said


@pytest.fixture(scope="module")
def answers(tmp_path_factory) -> dict[str, LotBid]:
    """Return bids for lots of a small messy fleet: with everything, and with costs left out."""
    case = {"condition": "untested", "seller": "Seller Alder", "price": "90", "tested": "5", "good": "3",
            "stated_good_share": "0.7", "refund": "80"}  # fmt: skip
    given = Settings(other_fault_share=0.02, return_cost=5, bench_hours_free=4, bench_weeks=3)
    with loaded_fleet(1500, 3, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        family = connection.execute("SELECT min(family) FROM lot").fetchall()[0][0]
        words = {**case, "mix": f"{family}:20"}
        return {
            "whole": ask("lot-bid", connection, case=words, settings=given),
            "asked for": ask("lot-bid", connection, case=words),
            "arrived": ask("lot-bid", connection, case={**words, "received": "19"}, settings=given),
            "nothing came": ask("lot-bid", connection, case={"mix": words["mix"], "received": "0"}, settings=given),
        }


def test_an_answer_from_a_log_is_plain_and_whole(answers):
    for answer in answers.values():
        assert_plain(answer)
    whole = answers["whole"]
    assert whole.because is None
    assert all(getattr(whole, name) is not None for name in (
        "expected", "bid", "asking", "value_quantiles", "break_even", "sensitivity", "test", "testing", "capacity",
        "seller"))  # fmt: skip
    assert {one.origin for one in whole.sources} == {"setting", "prices", "record"}
    assert {one.name for one in answers["asked for"].asked_for} == {"other_fault_share", "return_cost"}
    said = bid_text(whole)
    assert "What drives the bid before the test" in said
    assert "To be given:" in bid_text(answers["asked for"])
    table = list(csv.DictReader(io.StringIO(bid_csv(whole))))
    assert float(next(row for row in table if row["what"] == "highest bid")["estimate"]) == whole.bid.highest_bid
    assert np.isfinite(whole.value_quantiles).all()


def test_the_keys_are_those_of_the_page(answers):
    told = answers["whole"].to_dict()
    told["arrival"] = answers["arrived"].to_dict()["arrival"]
    assert set(told) == keys("`lot-bid`")
    described = {name: inner - VALUES for names, inner in rows("`lot-bid`") for name in names}
    for key, words in described.items():
        value = told[key]
        value = value[0] if isinstance(value, list) and value else value
        if isinstance(value, dict) and key not in ("settings", "level"):
            assert set(value) <= words | ESTIMATE, key
    assert all(word in WORD.findall(section("`lot-bid`")) for word in ("loss_limit", "margin", "keep", "worth_it"))
