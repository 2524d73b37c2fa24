"""The ranking of families: what a unit cost and earns, what is asked for, what is borrowed, and the page of its JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest

from pipelines.answers import ask
from pipelines.answers.family_ranking import ranking_of
from pipelines.answers.lot_record import LotRecord
from pipelines.answers.question import asked
from pipelines.answers.ranking_record import FamilyRow, PaidPrice, Ranking, RankingCase
from pipelines.answers.ranking_text import ranking_csv, ranking_table, ranking_text
from pipelines.errors import SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.lot_records import GIVEN, USUAL, lots_of, record
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet

FEES = ("buyer_premium", "freight", "tax")


def bought(*lots: tuple, **columns: object) -> pd.DataFrame:
    """Return lines of lots: family, units, price of the lot, and perhaps the day."""
    rows = [
        {"lot_id": f"P{place}", "family": family, "is_listed": True, "stated_condition": "untested", "bought_count": units,
         "bought_on": pd.Timestamp(*day or ("2025-06-01",)), "received_count": pd.NA, "lot_price": price, **dict.fromkeys(FEES),
         "is_price_repeated": False, **columns}
        for place, (family, units, price, *day) in enumerate(lots)
    ]  # fmt: skip
    return pd.DataFrame(rows).astype(
        {"bought_count": "Int64", "received_count": "Int64", **dict.fromkeys(("lot_price", *FEES), float)}
    )


LINES = bought(("Nolm", 20, 200.0), ("Nolm", 10, 110.0), ("Velm", 20, 240.0))


def ranked(of: LotRecord | None = None, *, lines: pd.DataFrame = LINES, settings: dict | None = None, **case: str) -> Ranking:
    chosen = Settings(**(GIVEN if settings is None else settings))
    question = asked("family-ranking", by=[], where={}, clock=None, level=None, settings=chosen, case=case)
    return ranking_of(replace(record() if of is None else of, lines=lines), question)


def row(answer: Ranking, family: str) -> FamilyRow:
    return next(one for one in answer.families if one.family == family)


def test_a_unit_earns_what_its_fates_bring_less_the_price_given():
    # Of 400 units a lot: 30 % work, 20 % cleaned, 25 % new part, 25 % scrap; other families have none.
    lots = lots_of(*[("Nolm", "untested", f"s{one}", 120, 80, 100, 100) for one in range(12)])
    answer = ranked(record(lots), price="nolm:5")
    good = 30 * 0.9 - 3 - 0.5 * 20
    expected = 0.75 * good - 0.45 * 1 - 0.25 * (0.5 * 20 - 2) - 0.25 * 1 - 5
    nolm = row(answer, "Nolm")
    assert nolm.profit_per_unit.estimate == pytest.approx(expected, abs=0.7)
    assert nolm.profit_per_unit.low < expected < nolm.profit_per_unit.high
    assert (nolm.paid.origin, nolm.paid.lots, nolm.paid.price.estimate) == ("given", 0, 5)
    assert nolm.good_share.estimate == pytest.approx(0.75, abs=0.03)
    dearer = row(ranked(record(lots), price="Nolm:9"), "Nolm")
    assert nolm.profit_per_unit.estimate - dearer.profit_per_unit.estimate == pytest.approx(4)


def test_the_going_price_is_what_was_paid_with_fees_for_the_units_that_came():
    lines = bought(*[("Nolm", 20, 80.0)] * 40, buyer_premium=10.0, freight=6.0, tax=4.0, received_count=10)
    paid = row(ranked(lines=lines), "Nolm").paid
    assert (paid.origin, paid.lots) == ("last_year", 40)
    assert paid.price.estimate == pytest.approx(10.0, rel=1e-3)


def test_earlier_lots_serve_only_where_the_last_year_has_none():
    lines = bought(
        *[("Nolm", 10, 100.0)] * 30, *[("Nolm", 10, 900.0, "2023-01-01")] * 30, *[("Velm", 10, 50.0, "2023-01-01")] * 30
    )
    answer = ranked(lines=lines)
    assert row(answer, "Nolm").paid.price.estimate == pytest.approx(10, rel=0.01)
    assert row(answer, "Nolm").paid.lots == 30
    assert (row(answer, "Velm").paid.origin, row(answer, "Velm").paid.price.estimate) == ("earlier", pytest.approx(5, rel=0.01))


@pytest.mark.parametrize("changed", [{"is_price_repeated": True}, {"lot_price": None}, {"lot_price": 0.0}, {"received_count": 0}])
def test_a_family_whose_price_nothing_tells_has_no_rank_and_is_asked_for(changed):
    lines = pd.concat([bought(("Nolm", 20, 200.0)), bought(("Velm", 20, 240.0), **changed)])
    answer = ranked(lines=lines)
    velm = answer.families[-1]
    assert (velm.family, velm.because, velm.rank.rank, velm.advice) == ("Velm", Because.NOT_GIVEN, None, "cannot_tell")
    assert velm.paid == PaidPrice(None, 0, velm.paid.price)
    assert velm.good_share.estimate is not None
    assert any("give its price (Velm:12.50)" in one for one in answer.warnings)
    assert row(ranked(lines=lines, price="Velm:3"), "Velm").because is None


def test_what_nothing_gives_is_asked_for_and_the_yield_still_shown():
    answer = ranked(settings={name: value for name, value in GIVEN.items() if name != "other_fault_share"})
    assert [one.name for one in answer.asked_for] == ["other_fault_share"]
    assert answer.because is Because.NOT_GIVEN
    assert "lost to other faults" in answer.sentence
    assert all(one.good_share.estimate and one.profit_per_unit.because is Because.NOT_GIVEN for one in answer.families)


def test_a_cost_that_one_family_lacks_leaves_the_others_ranked():
    sold = [("Nolm", fate, "A", 9, 30.0, 2.0, 30.0, pd.Timestamp("2025-06-01"), 9, 30.0, 2.0) for fate in ("works", "cleaned")]
    settings = {name: value for name, value in GIVEN.items() if name != "resale_price"}
    answer = ranked(record(resale=sold), settings=settings)
    assert [(one.name, one.of) for one in answer.asked_for] == [("resale_price", ["Velm"])]
    assert [(one.family, one.because) for one in answer.families] == [("Nolm", None), ("Velm", Because.NOT_GIVEN)]
    assert answer.because is None


def test_a_family_of_three_units_stands_last_without_advice():
    few = lots_of(("Tiny", "untested", "Alder", 3, 0, 0, 0)).assign(lot_id="T")
    answer = ranked(record(pd.concat([USUAL, few])), lines=bought(("Nolm", 20, 200.0), ("Velm", 20, 240.0), ("Tiny", 3, 3.0)))
    tiny = answer.families[-1]
    assert (tiny.family, tiny.is_thin, tiny.units, tiny.advice) == ("Tiny", True, 3, "cannot_tell")
    assert answer.best != "Tiny"
    assert any(one.startswith("Tiny: under 8") for one in answer.warnings)


def test_the_condition_is_that_of_most_units_bought_lately_unless_it_is_named():
    lines = pd.concat([LINES, bought(("Nolm", 900, 5.0, "2023-01-01"), stated_condition="salvage")])
    assert ranked(lines=lines).case == RankingCase("untested", True, {})
    assert ranked(lines=lines, condition="for parts").case.condition == "for_parts"
    assert ranked(lines=LINES.head(0)).case.condition == "unknown"


def test_no_past_lots_no_families():
    answer = ranked(record(USUAL.assign(fate="open")))
    assert (answer.because, answer.families) == (Because.NO_PAST_LOTS, [])
    assert "No unit of a past lot is finished" in answer.sentence
    assert ranking_table(answer).empty
    assert answer.sentence.split(":")[0] in " ".join(ranking_text(answer).split())


@pytest.mark.parametrize(
    ("case", "said"),
    [({"price": "Nove:3"}, "Nolm"), ({"price": "Nolm:3,nolm:4"}, "twice"), ({"price": "Nolm:-1"}, "out of range"),
     ({"condition": "shiny"}, "no stated condition"), ({"mix": "Nolm:3"}, "no 'mix'")],
)  # fmt: skip
def test_words_that_do_not_go_together(case, said):
    with pytest.raises(SettingError) as error:
        ranked(**case)
    assert said in f"{error.value.what} {error.value.remedy}"


def test_text_and_csv_say_it_in_plain_words():
    for answer in (ranked(), ranked(settings={})):
        text = ranking_text(answer)
        assert answer.sentence.split(":")[0][:40] in text.replace("\n", " ")
        assert not re.search(r"\b(nan|None|inf|NaN|null)\b", text)
    assert "chance of profit" in ranking_text(ranked())
    frame = ranking_table(ranked())
    assert list(frame["family"]) == [one.family for one in ranked().families]
    hostile = record(USUAL.assign(family=USUAL["family"].replace("Nolm", "=1+1")))
    assert "'=1+1" in ranking_csv(ranked(hostile, lines=LINES.assign(family=LINES["family"].replace("Nolm", "=1+1"))))


def test_the_same_question_gives_the_same_answer_whatever_the_order_of_rows():
    answer, shuffled = ranked(), ranked(lines=LINES.iloc[::-1])
    assert answer.to_dict() == ranked().to_dict()
    assert np.allclose(*([one.paid.price.estimate for one in of.families] for of in (answer, shuffled)))


def test_the_json_holds_the_keys_of_the_page_and_no_others(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (_, connection):
        answer = ask("family-ranking", connection, settings=Settings(other_fault_share=0.05, return_cost=15))
    plain = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
    title = "`family-ranking`"
    own = {"question", "log_start", "log_end", "level", "settings", "sentence", "warnings", "because"}
    assert set(plain) | set(plain["families"][0]) == keys(title) | own
    assert set(plain) == {one.name for one in fields(Ranking)}
    assert set(plain["families"][0]) == {one.name for one in fields(FamilyRow)}
    assert set(plain["families"][0]["rank"]) == inside(title, "rank") - {"families"}
    assert set(plain["families"][0]["paid"]) == inside(title, "paid") - {"families", "given", "last_year", "earlier"}
    assert set(plain["case"]) == inside(title, "case")
