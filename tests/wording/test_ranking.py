"""Ranks, advice and prices of families in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipelines.estimates.ranks import Rank
from pipelines.wording.ranking import earn_words, ordinal, origin_words, rank_words, ranking_sentence, ranking_warnings
from tests.answers.test_family_ranking import ranked


@pytest.mark.parametrize(
    ("number", "said"), [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (13, "13th"), (22, "22nd"), (111, "111th")]
)
def test_ordinals(number, said):
    assert ordinal(number) == said


def test_a_rank_is_one_place_or_a_range():
    assert rank_words(Rank(3, 3, 3, 0.0)) == "3rd"
    assert rank_words(Rank(3, 2, 6, 0.1)) == "between 2nd and 6th"
    assert rank_words(Rank(None, None, None, None)) == ""


def sentence(*advice: str, **changed) -> str:
    answer = ranked()
    rows = [replace(answer.families[0], family=f"F{place}", advice=word) for place, word in enumerate(advice)]
    words = {"best": None, "case": answer.case, "missing": [], "currency": "EUR", "level": 0.95} | changed
    return ranking_sentence(rows, **words)


def test_what_to_buy_comes_first():
    said = sentence("buy_in_bulk", "buy_in_bulk", "cannot_tell", "stop_buying", best="F0")
    assert said.startswith(
        "Buy F0 and F1 in bulk; stop buying F3. Of F2 it cannot be told yet. That is for units stated untested"
    )
    assert "F0 earns most, " in said


def test_neither_to_buy_nor_to_stop():
    said = sentence("cannot_tell", "cannot_tell")
    assert said.startswith("No family is sure enough to earn its price; none is sure enough to lose money. Of F0 and F1")
    assert "F0 comes first" in said
    assert "expected to earn" in sentence("cannot_tell")


def test_many_families_are_not_all_named():
    assert "F0, F1, F2, F3, F4, F5 and 3 more" in sentence(*["buy_in_bulk"] * 9)


def test_given_prices_and_an_unknown_condition_are_said():
    case = replace(ranked().case, condition="unknown", prices={"F0": 3.0})
    assert "for units whose condition is not stated, at the prices below" in sentence("buy_in_bulk", case=case)


def test_a_price_of_a_single_lot_is_called_thin():
    answer = ranked()
    row = answer.families[0]
    single, given = (replace(row, paid=replace(row.paid, origin=origin, lots=lots)) for origin, lots in
                     (("last_year", 1), ("given", 0)))  # fmt: skip
    assert origin_words(single.paid) == "1 lot of the last year, thin"
    said = ranking_warnings([single], answer.case, [], is_prior_led=False)
    assert any("the price of a unit is that of a single lot" in one for one in said)
    assert not any("single lot" in one for one in ranking_warnings([given], answer.case, [], is_prior_led=False))


@pytest.mark.parametrize(("chance", "said"), [(None, "–"), (0.0, "under 1 %"), (1.0, "over 99 %"), (0.25, "25 %")])
def test_a_chance_of_a_profit_is_never_none_or_all(chance, said):
    assert earn_words(chance).replace("\u00a0", " ") == said
