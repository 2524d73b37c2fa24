"""A case that does not go together is refused in words that say what to mend; nothing is guessed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipelines.answers.lot_case import lot_case
from pipelines.answers.question import asked
from pipelines.errors import SettingError
from pipelines.settings import Settings
from tests.answers.lot_records import record

RECORD = replace(record(), family_aliases={"nv": "Nolm"})


def test_names_are_understood_whatever_their_capitals_and_take_the_logs_spelling():
    case = lot_case({"mix": "nolm: 20, VELM:5", "condition": "Untested", "seller": "alder", "units": "25"}, RECORD)
    assert (case.mix, case.condition, case.seller, case.units) == ({"Nolm": 20, "Velm": 5}, "untested", "Alder", 25)


def test_the_users_other_word_for_a_family_is_taken_as_in_the_log():
    case = lot_case({"mix": "NV:5,Velm:2", "tested": "nv:3", "good": "Nolm:1"}, RECORD)
    assert (case.mix, case.tested, case.good) == ({"Nolm": 5, "Velm": 2}, {"Nolm": 3, "Velm": 0}, {"Nolm": 1, "Velm": 0})


def test_the_name_of_a_family_may_hold_commas_and_colons():
    words = {"mix": "Pad, flat:7,Nolm:2,Pad: deep:3", "new_family": "yes"}
    assert lot_case(words, RECORD).mix == {"Pad, flat": 7, "Nolm": 2, "Pad: deep": 3}


def test_without_a_word_the_condition_is_unknown_and_the_seller_any():
    case = lot_case({"mix": "Nolm:3"}, RECORD)
    assert (case.condition, case.seller, case.price, case.tested_count) == ("unknown", None, None, 0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({}, "what is in the lot"),
        ({"mix": "Nolm"}, "'Nolm' is no part of mix"),
        ({"mix": "Nolm:5,Velm"}, "'Velm' is no part of mix"),
        ({"mix": ":5"}, "':5' is no part of mix"),
        ({"mix": "Nolm:20,Velm:5", "units": "30"}, "adds up to 25 units, not to 30"),
        ({"mix": "Nolm:0"}, "out of range"),
        ({"mix": "Nolm:-3"}, "out of range"),
        ({"mix": "Nolm:2.5"}, "not a whole number"),
        ({"mix": "Nolm:nan"}, "out of range"),
        ({"mix": "Nolm:many"}, "is no number"),
        ({"mix": "Nolm:5,nolm:4"}, "twice"),
        ({"mix": "Nollm:5"}, "Did you mean Nolm?"),
        ({"mix": "Zzzyx:5"}, "It has: Nolm, Velm."),
        ({"mix": "Zzzyx:5"}, "new_family=yes"),
        ({"mix": "Nolm:5", "condition": "shiny"}, "working, tested, untested"),
        ({"mix": "Nolm:5", "price": "-1"}, "out of range"),
        ({"mix": "Nolm:5", "price": "inf"}, "out of range"),
        ({"mix": "Nolm:5", "tested": "3"}, "needs both"),
        ({"mix": "Nolm:5", "tested": "3", "good": "4"}, "4 good of 3 tested"),
        ({"mix": "Nolm:5", "tested": "6", "good": "4"}, "6 units of Nolm were tested, but the lot has 5"),
        ({"mix": "Nolm:5,Velm:2", "tested": "3", "good": "1"}, "of which family"),
        ({"mix": "Nolm:5", "tested": "Velm:3", "good": "Velm:1"}, "no family in the mix 'Velm'"),
        ({"mix": "Nolm:5", "received": "6"}, "6 units arrived of a lot of 5"),
        ({"mix": "Nolm:5", "received": "2", "tested": "3", "good": "1"}, "only 2 arrived"),
        ({"mix": "Nolm:5", "stated_good_share": "80"}, "out of range"),
        ({"mix": "Nolm:5", "new_family": "maybe"}, "yes or"),
        ({"mix": "Nolm:60%"}, "Write Nolm:12: digits"),
        ({"mix": "Nolm:5", "price": "400,50"}, "Write price=12.5: digits, with a point before decimals"),
        ({"mix": "Nolm:5", "price": "400€"}, "no comma, sign of a currency"),
        ({"mix": "Nolm:5", "received": "all"}, "Write received=12: digits"),
        ({"mix": "Nolm:5", "received": "4.5"}, "Count whole ones: received=12."),
        ({"mix": "nv:5,Nolm:2"}, "twice, in two spellings"),
        ({"mix": "Nolm:5,Velm:2", "tested": "nv:3,Nolm:2", "good": "Nolm:1"}, "twice, in two spellings: nv, Nolm"),
    ],
)
def test_what_does_not_go_together_is_refused_in_words(words, said):
    with pytest.raises(SettingError) as error:
        lot_case(words, RECORD)
    assert said in str(error.value)


def test_a_new_family_is_taken_where_that_is_said_and_a_known_one_keeps_its_name():
    case = lot_case({"mix": "Orlim:5,nolm:2", "new_family": "yes"}, RECORD)
    assert case.mix == {"Orlim": 5, "Nolm": 2}
    assert case.new_families == ["Orlim"]


def test_a_test_by_family_leaves_the_others_untested_and_one_of_nothing_is_none():
    case = lot_case({"mix": "Nolm:5,Velm:9", "tested": "velm:4", "good": "Velm:1"}, RECORD)
    assert (case.tested, case.good) == ({"Nolm": 0, "Velm": 4}, {"Nolm": 0, "Velm": 1})
    assert lot_case({"mix": "Nolm:5", "tested": "0", "good": "0"}, RECORD).tested == {}


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"case": {"colour": "red"}}, "has no 'colour'"),
        ({"clock": "days"}, "has no clock"),
        ({"where": {"family": ["Nolm"]}}, "takes no --where"),
        ({"by": ["family"]}, "Leave --by out."),
        ({"level": 0.95}, "80 % intervals throughout"),
    ],
)
def test_a_bid_refuses_what_it_would_ignore(more, said):
    words = {"by": [], "where": {}, "clock": None, "level": None, "settings": Settings(), **more}
    with pytest.raises(SettingError) as error:
        asked("lot-bid", **words)
    assert said in str(error.value)
