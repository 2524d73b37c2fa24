"""Sentences of bids and lots."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import fields as fields_of

import pytest

from pipelines.decisions.bid import Even
from pipelines.decisions.lot_test import LotAction, LotReason, SampleReason
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import LotInputs
from pipelines.vocabulary import Because
from pipelines.wording import lots
from pipelines.wording.costs import swing_words


@dataclass(frozen=True)
class At:
    bid: float = 412.7
    expected_profit: float = 160.0
    low_profit: float = 0.0
    high_profit: float = 330.0
    loss_chance: float = 0.1


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def said(highest: float | None = 412.7, at: At | None = None, **more) -> str:
    words = {"margin_binds": False, "margin": 0.0, "currency": "EUR", "asking": None, "test": None, **more}
    return plain(lots.bid_sentence(highest, at or At(), **words))


def test_a_bid_is_said_first_and_rounded_down():
    assert said() == (
        "Bid at most 412 EUR. At that bid the lot loses money in 1 of 10 cases and is expected to earn 160 EUR "
        "(8 of 10 such lots: 0 EUR to 330 EUR)."
    )
    assert said(16.789).startswith("Bid at most 16.78 EUR.")
    assert said(currency=None).startswith("Bid at most 412.")


def test_no_bid_a_margin_a_price_asked_and_a_test_are_said():
    none = said(None, At(0.0, -30.0, -60.0, -5.0, 0.953))
    assert none.startswith("Do not bid: even for nothing the lot loses money in 95 of 100 cases and is expected to lose 30 EUR")
    assert "−60 EUR to −5 EUR" in none
    assert "would not leave your margin of 15 %." in said(margin_binds=True, margin=0.15)
    assert "would be expected to lose money." in said(margin_binds=True)
    assert "At the 500 EUR asked it loses money in 3 of 10 cases" in said(asking=At(500.0, 72.0, -87.0, 243.0, 0.3))
    assert said(test=(2, 5, 300.9)).endswith("Before the test (2 of 5 units worked) it was 300 EUR.")
    assert said(test=(1, 1, None)).endswith("Before the test (1 of 1 unit worked) no bid was advised.")


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0, "under 1 of 100 cases"),
     (1, "over 99 of 100 cases"), (0.001, "under 1 of 100 cases"), (0.1, "1 of 10 cases"), (0.13, "13 of 100 cases"),
     (0.0996, "1 of 10 cases"), (0.999, "over 99 of 100 cases"), (0.02, "2 of 100 cases"), (0.5, "5 of 10 cases")],
)  # fmt: skip
def test_chances_are_counted_in_cases(chance, words):
    assert lots.chance_words(chance) == words


@pytest.mark.parametrize(
    ("amount", "words"), [(0, "0 EUR"), (-0.001, "0 EUR"), (-5, "−5 EUR"), (1234.5, "1,234 EUR"), (3.2, "3.20 EUR")]
)
def test_money_has_its_sign_and_currency(amount, words):
    assert plain(lots.money_words(amount, "EUR")) == words


def test_every_word_of_a_decision_has_a_sentence():
    for even in Even:
        assert lots.even_sentence(100, "EUR", (even, 0.4 if even is Even.REACHED else None)).startswith("At 100")
    for why in SampleReason:
        count = 3 if why is SampleReason.WORTH_IT else 0
        assert "Nolm" in lots.testing_sentence("Nolm", why, count, 2 if count else None, 12.0, "EUR")
    for action in LotAction:
        for why in LotReason:
            assert lots.arrival_sentence(action, why, 0, None, None).endswith(".")
    for fate in (*FATES, None):
        assert lots.fate_words(fate)
    for one in fields_of(LotInputs):
        assert swing_words(one.name) != one.name
    for because in (Because.NO_PAST_LOTS, Because.TOO_LARGE):
        assert lots.refused_sentence(because).startswith("No bid can be told: ")


def test_units_that_did_not_come_are_claimed_for():
    assert plain(lots.arrival_sentence("keep", "as_stated", 2, 10.0, "EUR")) == (
        "Keep the lot: it is no worse than stated. 2 units did not come: claim for them, 10 EUR of the price "
        "(premium and tax left out)."
    )
    assert lots.arrival_sentence("keep", "as_stated", 1, None, None).endswith("1 unit did not come: claim for it.")


def test_a_lot_sent_back_is_not_claimed_for_and_one_that_never_came_is():
    back = lots.arrival_sentence("return", "worse_than_stated", 2, 10.0, "EUR")
    assert "laim" not in back
    assert back.endswith("2 units did not come: see that the refund covers them too.")
    nothing = lots.arrival_sentence("cannot_say", "none_tested", 20, 100.0, "EUR", is_all_missing=True)
    assert plain(nothing) == "Nothing came: claim for all 20 units, 100 EUR of the price (premium and tax left out)."


def test_a_listing_that_says_working_is_asked_for_its_share():
    said = lots.arrival_sentence("cannot_say", "nothing_stated", 0, None, None, is_said_to_work=True)
    assert said.endswith("the listing says working: give the share that it states (all of them, if it names none).")
    assert "worse than stated" in lots.arrival_sentence("keep", "as_stated", 0, None, None, is_said_to_work=True)


def test_one_unit_works_and_two_work():
    assert "buy where at least 1 works:" in lots.testing_sentence("Nolm", "worth_it", 3, 1, 12.0, "EUR")
    assert "buy where at least 2 work:" in lots.testing_sentence("Nolm", "worth_it", 3, 2, 12.0, "EUR")


def test_the_bench_and_the_seller_are_said_as_far_as_they_are_known():
    hours = (17.3, 14.4, 20.2)
    assert lots.capacity_sentence(hours, None, (None, None, None), None, None) == "The bench needs 17 hours (14 to 20)."
    whole = lots.capacity_sentence(hours, 5, (3.46, 2.88, 4.04), 4, 0.8)
    assert whole.endswith(
        "With 5 free hours a week that takes 3.5 weeks (2.9 to 4.0). It is done within 4 weeks in 8 of 10 cases."
    )
    assert lots.seller_sentence("Alder", 3, 39, 60, (0.6, 0.4, 0.9)).endswith("worse than others of the same kind.")
    assert "not clearly" in lots.seller_sentence("Alder", 1, 3, 6, (0.9, 0.5, 1.4))


def test_what_a_record_lacks_is_said_once_for_each():
    said = lots.record_warnings(
        condition="salvage", conditions=["untested"], followed=12.4, warranty_days=90, lots=1,
        borrowed=[("condition", "salvage"), ("family", "Orlim"), ("bench work", "Velm")],
    )  # fmt: skip
    assert len(said) == 6
    assert "12 sales watched for 90 days" in said[-1]
    new = {"condition": "untested", "conditions": ["untested"], "followed": None, "warranty_days": None, "lots": 9}
    assert lots.record_warnings(**new, borrowed=[("seller", "Ashe")], near_seller="Ash")[0].endswith(" Did you mean Ash?")
    assert lots.record_warnings(**new, borrowed=[("seller", "Ashe")])[0].endswith("so the limits are wide.")
    assert lots.record_warnings(
        condition="untested", conditions=["untested"], followed=None, warranty_days=None, lots=9, borrowed=[]
    ) == []  # fmt: skip
    assert "may be any" in lots.record_warnings(
        condition="unknown", conditions=["untested", "tested"], followed=80.0, warranty_days=90, lots=9,
        borrowed=[("condition", "unknown")],
    )[0]  # fmt: skip


def test_a_test_that_surprises_is_said_and_another_is_not():
    assert lots.surprise_warnings({"Nolm": (0.2, 0.9)}) == []
    few, many = lots.surprise_warnings({"Nolm": (0.001, 0.999), "Velm": (1.0, 0.02)})
    assert "so few working units of Nolm" in few
    assert "so many working units of Velm" in many
