"""Past lots as sentences: what stands beside what, in plain words."""

from __future__ import annotations

from importlib.resources import files

from pipelines.answers.past_lots_record import Backlog, Seller, Sum
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import Share
from pipelines.estimates.winners_curse import Curse
from pipelines.vocabulary import Because
from pipelines.wording import past_lots as wording


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_curse_is_said_with_its_limits_the_right_way_round():
    said = wording.curse_sentence(Curse(30, 9, -0.09, Estimate(-0.08, -0.13, -0.03)))
    assert plain(said) == "Lots you bought came out 8 % worse than forecast (3 to 13 %): take that off the bid."
    assert wording.curse_sentence(Curse(30, 9, 0.01, Estimate(0.01, -0.05, 0.07))).startswith("The lots bought came out neither")
    assert "better" in wording.curse_sentence(Curse(30, 9, 0.09, Estimate(0.08, 0.03, 0.13)))
    assert wording.curse_sentence(Curse(3, 1, None, Estimate.refused(Because.TOO_FEW_LOTS))) == ""
    assert "too few past lots" in wording.untold_curse_sentence(Because.TOO_FEW_LOTS)


def test_what_bids_above_the_advice_did_is_said_once():
    def said(every: Sum, within: Sum, over: Sum) -> str:
        return plain(wording.sentence(
            lots=[], because=None, missing=[], held=Share(3, 4, 0.75, 0.3, 0.95), all_scored=every, within_advice=within,
            over_advice=over, disappointing=[], curse=Curse(3, 1, None, Estimate.refused(Because.TOO_FEW_LOTS)), currency="EUR",
            forecast_level=0.8,
        ))  # fmt: skip

    none, one, three = Sum(0, 0.0, 0.0, 0.0), Sum(1, 100.0, 150.0, 160.0), Sum(3, 900.0, 800.0, 700.0)
    assert said(three, none, three).endswith(
        "they lost 200 EUR. All of them cost more than the bid that would have been advised."
    )
    both = said(Sum(4, 1000.0, 950.0, 860.0), one, three)
    assert both.endswith(
        "3 lots cost more than the bid that would have been advised; they lost 200 EUR, the other earned 60 EUR."
    )


def test_the_waiting_work_is_said_in_hours_and_weeks():
    told = Backlog(2, 40, Estimate(18.0, 15.0, 21.0), 10.0, Estimate(1.8, 1.5, 2.1))
    assert wording.backlog_sentence(told) == (
        "40 units of 2 lots are waiting for the bench: 18 hours (15 to 21). "
        "At 10 free hours a week that is 1.8 weeks (1.5 to 2.1)."
    )
    refused = Estimate.refused(Because.NOT_GIVEN)
    assert wording.backlog_sentence(Backlog(1, 1, Estimate(1.0, 0.5, 2.0), None, refused)).endswith("the weeks are told too.")
    assert "cannot be told" in wording.backlog_sentence(Backlog(1, 1, refused, None, refused))
    assert wording.backlog_sentence(Backlog(0, 0, Estimate(0.0, 0.0, 0.0), None, refused)).startswith("No unit")


def test_only_sellers_beyond_doubt_are_named():
    one = Seller("Cedar", 9, 60, 200, Estimate(0.5, 0.3, 0.8), "worse")
    other = Seller("Alder", 9, 99, 200, Estimate(1.1, 0.8, 1.5), "cannot_tell")
    assert wording.sellers_sentence([one, other]) == "Cedar: worse than others of the same kind."
    assert wording.sellers_sentence([other]).startswith("No seller's units are clearly")
    assert wording.sellers_sentence([]) == "No seller is on record."


def test_lots_left_out_and_few_results_are_told():
    said = wording.warnings([], {"not_listed": 2, "no_day": 0, "no_count": 1})
    assert [plain(one) for one in said] == [
        "2 lots left out: named by jobs only, not by the table of lots.", "1 lot left out: without the number of units bought.",
    ]  # fmt: skip


def test_the_method_note_holds_nothing_that_breaks_on_the_page():
    text = files("pipelines.wording").joinpath("help", "past_lots.md").read_text(encoding="utf-8")
    assert len(text) > 400
    assert "$" not in text
    assert "http" not in text
