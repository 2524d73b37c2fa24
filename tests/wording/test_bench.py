"""The advice on a stick in words."""

from __future__ import annotations

from importlib.resources import files

import pytest

from pipelines.answers.bench_money import BENCH_COSTS
from pipelines.answers.case import CASE
from pipelines.decisions.clean_or_replace import Advice
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Course, Question
from pipelines.wording import bench

PASSES, HOLDS, PARTS = Estimate(0.7, 0.62, 0.77), Estimate(0.8, 0.7, 0.9), Estimate(0.9, 0.85, 0.94)


def said(told: Advice, passes: Estimate = PASSES, **more) -> str:
    given = {"depth": "flush", "warranty_days": 90, "currency": "EUR", "unlike": [], "first_number": 1, "missing": []} | more
    return bench.advice_sentence(told, passes, HOLDS, PARTS, **given).replace("\u00a0", " ")


def told(course=Course.CLEAN_FIRST, until=1, **more) -> Advice:
    cost = {Course.CLEAN_FIRST: 6.2, Course.NEW_PART: 14.1}
    given = {"margin": 7.9, "sure_share": 0.95, "is_close": False, "after_cleans": Course.NEW_PART} | more
    return Advice(course, cost, clean_until=until, **given)


def test_it_says_what_to_do_the_chances_the_costs_and_when_to_stop():
    assert said(told()) == (
        "Clean it first (flush of the closed module): it passes in 7 of 10 such cases (62 to 77 %), and 8 of 10 of those hold "
        "90 days (new parts: 9 of 10). Expected cost 6.20 EUR, against 14.10 EUR for a new part. "
        "If the clean fails, fit a new part."
    )
    assert said(told(until=2), first_number=1).endswith("If the clean fails, clean once more, then fit a new part.")
    assert said(told(until=4), first_number=2).endswith("If the clean fails, clean up to 2 times more, then fit a new part.")


def test_a_new_part_and_a_close_call():
    one = said(told(Course.NEW_PART, None, is_close=True, sure_share=0.6))
    assert one.startswith(
        "Too close to call. By a little, fit a new part: a clean (flush of the closed module) passes in 7 of 10"
    )
    assert "it is the cheapest in 6 of 10 of what the record allows" in one


def test_refusals_say_why_and_what_to_give():
    none = Advice(None, {}, None, None, False, None, None, Because.NOT_GIVEN, ("return_cost",))
    assert said(none, missing=["return_cost"]).endswith(
        "Before the cheapest course can be told, give: cost of a return. Nothing is assumed for it."
    )
    unlike = Advice(None, {}, None, None, False, None, None, Because.UNLIKE_ANY)
    assert said(unlike, Estimate.refused(Because.UNLIKE_ANY), unlike=["af_jitter_pct", "mode"]) == (
        "No advice on this stick. No such stick was ever cleaned (look at the jitter and the fault)."
    )
    thumb = Advice(Course.NEW_PART, {}, None, None, False, None, None, Because.TOO_FEW_ATTEMPTS, is_rule_of_thumb=True)
    assert said(thumb, Estimate.refused(Because.TOO_FEW_ATTEMPTS)).startswith("Rule of thumb only: fit a new part")


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.7, "7 of 10"), (0.147, "15 of 100"), (0.03, "3 of 100"), (0.001, "under 1 %"), (0.999, "over 99 %"), (0.0, "0 %"),
     (1.0, "100 %")],
)  # fmt: skip
def test_a_share_is_said_in_tenths_where_they_say_it_well(share, words):
    assert bench.of_ten_words(share).replace("\u00a0", " ") == words


def test_without_a_warranty_nothing_is_said_of_holding():
    assert "hold" not in said(told(), warranty_days=0)


def test_everything_that_can_be_said_or_asked_for_has_words():
    for name in (*CASE[Question.CLEAN_OR_REPLACE], *BENCH_COSTS):
        assert bench.said_words(name)


@pytest.mark.parametrize(
    ("slope", "words"),
    [(Estimate(1.0, 0.9, 1.1), "come true as said"), (Estimate(0.7, 0.6, 0.8), "too bold"),
     (Estimate(1.5, 1.2, 1.8), "too timid"), (Estimate.refused(Because.ONE_RESULT), "cannot be told")],
)  # fmt: skip
def test_calibration_says_whether_chances_come_true(slope, words):
    assert words in bench.calibration_sentence(400, 0.18, 0.24, slope)


def test_chances_no_better_than_the_plain_share_are_said_to_be_so():
    assert "no better than the plain share" in bench.calibration_sentence(400, 0.25, 0.24, Estimate(1, 0.9, 1.1))


def test_the_method_note_is_there_and_holds_nothing_that_breaks_on_the_page():
    note = files("pipelines.wording").joinpath("help", "clean_or_replace.md").read_text(encoding="utf-8")
    assert len(note) > 400
    assert "$" not in note
    assert "http" not in note


def test_a_file_without_sticks_and_one_with_other_sheets():
    assert bench.batch_sentence({}, []) == "No row of the file says anything of a stick."
    found = bench.batch_sentence({"Clean it first": 2, "no advice": 1}, ["notes", "prices"])
    assert found == "Of 3 rows, clean it first: 2, no advice: 1. Not read: the sheets notes and prices."
    found = bench.batch_sentence({"no advice": 1}, [], ["colour", "af_rest_ofset_pct"])
    assert found.endswith("Headings not understood, so not used: colour, af_rest_ofset_pct.")


def test_what_is_taken_to_hold_because_nobody_was_followed_is_said_with_what_it_tilts_to():
    given = {"mechanism": None, "worn_attempts": None, "course": Course.NEW_PART, "warranty_days": 90,
             "is_warranty_usual": False, "not_weighed": [], "assumed": ()}  # fmt: skip

    def notes(*, told: bool = True, clean: bool = True, part: bool = True) -> list[str]:
        return bench.bench_warnings(**given, is_told=told, is_hold_known=clean, is_part_hold_known=part)

    assert notes() == []
    (note,) = notes(part=False)
    assert note.startswith("No new part was followed 90 days")
    assert "tilts to replacing" in note
    (note,) = notes(clean=False)
    assert "each is taken to hold: even so cleaning first is not the cheapest" in note
    assert notes(told=False, clean=False, part=False) == []


def test_cleans_that_nobody_followed_are_said_with_the_chance_to_pass_and_what_to_do():
    none = Advice(None, {}, None, None, False, None, None, Because.NO_FOLLOW_UP)
    words = bench.advice_sentence(
        none, PASSES, Estimate.refused(Because.NO_FOLLOW_UP), PARTS, depth=None, warranty_days=90, currency=None, unlike=[],
        first_number=1, missing=[],
    )  # fmt: skip
    assert words.replace("\u00a0", " ").startswith(
        "A clean passes in 7 of 10 such cases (62 to 77 %). Whether it holds 90 days cannot"
    )
    assert words.endswith("Give a warranty of 0 days to weigh passing alone.")
