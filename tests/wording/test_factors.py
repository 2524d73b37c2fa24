"""The sentences of what goes with early drift."""

from pipelines.vocabulary import Because, Question
from pipelines.wording.factors import Contrast, factors_sentence, ratio_words, refused_sentence, sold_warning

NONE = {"confounded": [], "one_level": [], "blank": []}
FIRST, AGAIN = Question.TIME_TO_FAILURE, Question.RECURRENCE


def said(of: Question, clearest: Contrast | None, **words) -> str:
    given = {"spells": 900, "failures": 300, "level": 0.9, "compared": 5, "clear": 2, "changing": [], "left_out": NONE}
    return factors_sentence(of, clearest=clearest, **given | words).replace("\u00a0", " ")


def test_the_clearest_difference_is_said_as_going_with_not_as_a_cause():
    one = Contrast("family", "Corvath", "Ambrel", 0, (1.84, 1.4, 2.31), (0.7, 0.58, 0.84))
    assert said(FIRST, one, changing=["family"], left_out={**NONE, "confounded": ["stick", "sensor_type"]}) == (
        "First life: 300 of 900 modules began to drift. Clearest difference: family Corvath fails 1.8 times as often as family "
        "Ambrel at the same age (90 % interval 1.4 to 2.3), all else compared being equal, and lasts 0.70 times as long (0.58 to "
        "0.84). 2 of 5 ratios differ from 1 beyond their interval. A difference goes with its column; whether it is the cause, a "
        "log cannot tell. For family the ratio changes with age: read it as an average. Left out: stick, sensor (cannot be told "
        "from the others)."
    )


def test_after_a_clean_other_words_and_a_missing_life_ratio():
    one = Contrast("depth", "air", "other", 3, (2.0, 1.02, 3.9), (None, None, None))
    text = said(AGAIN, one)
    assert text.startswith("After a clean: 300 of 900 passed cleans drifted again. Clearest difference: air on the closed module "
                           "drifts again 2.0 times as often as depth of clean other (3 rare ones together) as long after the "
                           "clean (90 % interval 1.02 to 3.9), all else compared being equal.")  # fmt: skip


def test_no_difference_is_said_as_such():
    assert "No difference is shown: all 5 intervals hold a ratio of 1." in said(FIRST, None, clear=0)
    assert "No ratio has limits." in said(FIRST, None, clear=0, compared=0)


def test_sticks_that_their_family_tells_say_how_to_compare_them():
    text = said(FIRST, None, clear=0, left_out={**NONE, "confounded": ["stick"]}, is_told_by_family=True)
    assert text.endswith("filter by the sticks left and right to compare these.")


def test_sold_levels_are_named():
    text = sold_warning(AGAIN, [("site", "bench"), ("usage_class", None)])
    assert text.startswith("After a clean: nearly all of site bench and usage not recorded was sold, so drift there is seen only")


def test_refusals_name_the_reason():
    text = refused_sentence(FIRST, Because.ONE_LEVEL, spells=1, failures=1)
    assert text == "First life: 1 of 1 module began to drift. Nothing can be compared: only one level has failures."
    assert "nothing was watched" in refused_sentence(AGAIN, Because.NO_SPELLS, spells=0, failures=0)


def test_a_ratio_near_1_keeps_the_digits_that_tell_it_from_1():
    assert [ratio_words(one) for one in (1.04, 0.96, 1.8, 12.4, 0.071)] == ["1.04", "0.96", "1.8", "12", "0.07"]
