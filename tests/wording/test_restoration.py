"""The sentences of what a clean gives back."""

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from pipelines.wording.restoration import groups_sentence, many_warning, refused_sentence, restoration_sentence

COUNTS = {"modules": 40, "gaps": 120, "failures": 70, "failures_counted": 40, "failures_unnamed": 10, "gaps_left_out": 3}
HEAD = {"counts": COUNTS, "level": 0.95, "horizon": "90 days"}


def said(given_back: dict, holding: dict, *, is_memory_told: bool = False, **more: object) -> str:
    words = {"is_by_cause": False, **HEAD, **more}
    text = restoration_sentence(memory="whole", is_memory_told=is_memory_told, given_back=given_back, holding=holding, **words)
    return text.replace("\u00a0", " ")


def test_shares_are_said_with_their_intervals_and_how_many_hold():
    text = said({"open": ((0.62, 0.5, 0.74), None)}, {"open": (0.8, 0.7, 0.88)}, is_memory_told=True)
    assert text == (
        "Opened and wiped gives back 62 % of the age of the dirt (95 % interval 50 to 74 %). It takes off part of the whole age, "
        "not only of what came since the last clean. Still good 90 days later: 80 % (70 to 88 %) after opened and wiped. 70 of "
        "120 stretches in service, of 40 modules, ended in drift. Left out: 3 whose module's start, or an earlier stretch, is "
        "not known, or that follow a clean of a stick that nobody had tested."
    )


def test_by_cause_the_age_is_that_of_the_dirt_and_wear_is_named_apart():
    text = said({"open": ((0.92, 0.7, 1.0), None)}, {"open": (0.8, 0.7, 0.88)}, is_by_cause=True)
    assert "40 of these are put down to dirt or spills, which is what a clean can take away" in text
    assert "20 of 70 were of wear and other causes, which no clean gives back" in text
    assert "10 have no cause recorded and are not counted either." in text
    assert "Opened and wiped gives back 92 % of the age of the dirt (95 % interval 70 to 100 %)." in text


def test_without_causes_the_sentence_says_so_and_how_many_hold():
    untold = ((None, None, None), Because.NO_CAUSES)
    text = said({"air": untold, "open": untold}, {"air": (None, None, None), "open": (0.8, 0.7, 0.88)})
    assert "the log does not say why enough of these sticks failed, so wear and dirt cannot be told apart" in text
    assert "put down to dirt" not in text
    assert "Still good 90 days later: 80 % (70 to 88 %) after opened and wiped." in text
    assert text.endswith("recurrence by depth of clean and by attempt number.")


def test_groups_beyond_the_largest_are_said_with_what_to_do():
    assert "the 12 of 30 groups with the most stretches" in many_warning(used=12, of=30)
    assert "ask for a part of it with a filter" in refused_sentence(Because.TOO_LARGE, failures=20, gaps=50)


def test_several_groups_are_counted_by_whether_anything_is_told():
    untold = Estimate.refused(Because.MODEL_UNFIT)
    assert "can be told for 1 of 2 groups" in groups_sentence([[Estimate(0.5, 0.4, 0.6), untold], [untold]])
    assert "can be told for none of 2 groups" in groups_sentence([[untold], []])


def test_a_law_that_does_not_fit_is_said_in_words():
    text = said({"open": ((None, None, None), Because.MODEL_UNFIT)}, {"open": (0.8, 0.7, 0.88)})
    assert "Opened and wiped: after a clean these sticks drift in a way that no share of the age given back explains" in text
    assert "Still good 90 days later: 80 % (70 to 88 %) after opened and wiped." in text


def test_nothing_given_back_is_said_as_no_sign_of_it():
    text = said({"air": ((0.0, 0.0, 0.08), None)}, {"air": (None, None, None)})
    assert "no sign that any of the age of the dirt is given back (95 % interval at most 8 %)" in text
    assert "be it that the cause stayed or that it came back" in text
    assert "this log cannot tell; the whole is taken" in text


def test_what_is_not_told_gives_its_reason_once_and_leads_on():
    untold = ((None, None, None), Because.RESTORATION_UNTOLD)
    text = said({"air": untold, "flush": untold}, {"air": (0.6, 0.5, 0.7), "flush": (None, None, None)})
    assert "does not say which is best" not in text  # one depth alone
    assert text.count("drift does not clearly become more likely with age here") == 1
    assert "Air on the closed module and flush of the closed module: drift" in text
    assert "Still good 90 days later: 60 % (50 to 70 %) after air on the closed module." in text
    assert text.endswith("recurrence by depth of clean and by attempt number.")
    assert "whole" not in text


def test_a_refusal_says_how_many_and_why():
    assert refused_sentence(Because.TOO_FEW_FAILURES, failures=2, gaps=1).startswith("What a clean gives back cannot")
    assert refused_sentence(Because.NO_SPELLS).startswith("Nothing to say")
