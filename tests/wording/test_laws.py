"""Sentences about the two laws of wear, an assumed shape, and how many are still good at an age."""

from __future__ import annotations

from dataclasses import replace

from pipelines.answers.laws_record import AssumedLife, AssumedShape, SurvivingAt
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from pipelines.wording import laws
from tests.wording.lives_parts import HOURS, LAWS, known, refused


def test_a_shape_that_was_assumed_is_said_with_how_many_failed():
    life = AssumedLife(2.0, known(1000), known(300), known(800))
    others = [AssumedLife(1.5, known(1000), known(200), known(800)), AssumedLife(2.5, known(1000), known(400), known(800))]
    said = laws.assumed_sentence(AssumedShape(None, "setting", False, 0, life, others), HOURS, 0.95, 4)
    assert said == (
        "With 4 failures and a Weibull shape of 2.00 assumed (as set), one in ten fail by 300 play hours (150 to 600 play "
        "hours); 200 play hours at a shape of 1.50 or 400 play hours at a shape of 2.50."
    )
    none = Estimate(None, 250, None, Because.NO_FAILURES)
    one_sided = AssumedShape(None, "pooled", True, 0, replace(life, b10=none), [replace(one, b10=none) for one in others])
    assert "nine in ten hold at least 250 play hours (95\u00a0% one-sided" in laws.assumed_sentence(one_sided, HOURS, 0.95, 0)


def test_how_many_are_still_good_is_said_by_the_curve_and_by_the_laws():
    part = SurvivingAt(500, "hours", 40, Estimate(0.83, 0.79, 0.86), Estimate(0.8, 0.7, 0.9), Estimate(0.85, 0.8, 0.9))
    said = laws.surviving_sentence(part, HOURS).replace("\u00a0", " ")
    assert said == (
        "At 500 play hours 83 % are still good (79 to 86 %), 40 still watched then; 80 % by a Weibull law and 85 % by a "
        "lognormal law."
    )
    none = refused(Because.TOO_FEW_FAILURES)
    bare = replace(part, weibull=none, lognormal=none)
    assert laws.surviving_sentence(bare, HOURS, is_after_clean=True).startswith("At 500 play hours after the clean 83")
    assert laws.surviving_sentence(bare, HOURS).endswith("still watched then.")
    beyond = replace(part, curve=refused(Because.NOT_REACHED))
    assert laws.surviving_sentence(beyond, HOURS).replace("\u00a0", " ") == (
        "How many are still good at 500 play hours cannot be told: not reached in this log; it would be 80 % (70 to 90 %) by a "
        "Weibull law and 85 % (80 to 90 %) by a lognormal law."
    )


def test_the_other_law_is_always_held_against_the_weibull():
    assert laws.laws_sentence(LAWS, HOURS).endswith(
        "one in ten fail by 400 play hours (20\u00a0% sooner than by the Weibull) and half by 1,500 play hours "
        "(20\u00a0% later than by the Weibull)."
    )
    like = replace(LAWS, b10_ratio=1.0, median_ratio=None)
    assert "(as by the Weibull)" in laws.laws_sentence(like, HOURS)
    assert laws.laws_sentence(like, HOURS).endswith("(not compared with the Weibull).")
