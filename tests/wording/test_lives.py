"""The sentences about the heavier estimates of lives: what they say, and that a refusal is said in words."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from pipelines.answers.detail import (
    AssumedLife,
    AssumedShape,
    ByController,
    BySite,
    ClockQuestion,
    CommonShape,
    Dating,
    Frailty,
    IntervalCurve,
    Laws,
    Lognormal,
    Mechanism,
    MechanismTest,
    Place,
    PooledLife,
    SurvivingAt,
    WeibullByCluster,
)
from pipelines.answers.record import LifeGroup, WeibullPart
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock
from pipelines.wording import lives

HOURS = Clock.HOURS


def known(estimate: float) -> Estimate:
    return Estimate(estimate, estimate / 2, estimate * 2)


def refused(because: Because) -> Estimate:
    return Estimate.refused(because)


LAWS = Laws(None, "lognormal", 5.0, 0.8, 1.2, Lognormal(None, known(0.8), known(400), known(1500), -50.0))
DATING = Dating(None, 12, 1.19, 1.02, 1.3, True)
POOLED = PooledLife(None, known(300), known(900), Place(4, 2, 6, 0.1))
COMMON = CommonShape(None, known(1.4), True, 0.4, known(200), known(800))
GROUP = LifeGroup({}, None, "", {"failures": 4, "spells": 40}, [], None, {}, WeibullPart(None, *[known(1)] * 4, None))


def test_a_clause_names_the_other_law_before_the_rank():
    full = replace(GROUP, laws=LAWS, pooled=POOLED, dating=DATING)
    assert "lognormal law fits clearly better" in lives.group_clause(full, COMMON, ranked=12)
    plain = replace(full, laws=replace(LAWS, b10_ratio=0.95))
    assert lives.group_clause(plain, COMMON, ranked=12) == (
        "Judged with the other groups: between 2nd and 6th of 12 by length of life."
    )
    for common in (replace(COMMON, is_plausible=False), replace(COMMON, p_value=0.03), None):
        assert lives.group_clause(plain, common, ranked=12) == ""
    assert lives.group_clause(GROUP, COMMON, ranked=0) == ""


def test_what_groups_borrow_is_doubted_where_they_do_not_wear_alike():
    def said(common, laws=None) -> str:
        group = replace(GROUP, pooled=POOLED, laws=laws)
        return next(one for one in lives.group_sentences(group, common, HOURS, 0.95, ranked=12) if "together" in one)

    assert "with care" not in said(COMMON)
    assert said(replace(COMMON, p_value=0.03)).endswith("the groups hardly share one shape, which this takes for granted.")
    assert said(COMMON, LAWS).endswith("a lognormal fits clearly better here.")
    assert "is in doubt (p = 0.03)" in lives.common_shape_sentence(replace(COMMON, p_value=0.03), HOURS, 0.95)
    groups = [replace(GROUP, by={"family": name}, pooled=POOLED, laws=LAWS) for name in ("Nova", "Orin")]
    assert "fits clearly better for Nova, Orin: prefer" in lives.pooled_doubt_sentence(groups)
    assert lives.pooled_doubt_sentence([replace(GROUP, pooled=POOLED)]) == ""


def test_dating_is_said_of_several_groups_at_once_and_only_of_ages_that_mislead():
    groups = [replace(GROUP, dating=DATING), replace(GROUP, dating=replace(DATING, b10_ratio=1.3)), GROUP]
    assert lives.dated_sentence(groups).endswith("mislead in 2 of 3 groups, at most by one in ten 30\u00a0% later.")
    assert lives.dated_sentence(groups[:1]) == lives.dated_sentence([GROUP, GROUP]) == ""
    assert lives.dating_sentence(DATING).endswith("would mislead: one in ten 19\u00a0% later.")


def test_a_shape_that_was_assumed_is_said_with_how_many_failed():
    life = AssumedLife(2.0, known(1000), known(300), known(800))
    others = [AssumedLife(1.5, known(1000), known(200), known(800)), AssumedLife(2.5, known(1000), known(400), known(800))]
    said = lives.assumed_sentence(AssumedShape(None, "setting", False, 0, life, others), HOURS, 0.95, 4)
    assert said == (
        "With 4 failures and a Weibull shape of 2.00 assumed (as set), one in ten fail by 300 play hours (150 to 600 play "
        "hours); 200 play hours at a shape of 1.50 or 400 play hours at a shape of 2.50."
    )
    none = Estimate(None, 250, None, Because.NO_FAILURES)
    one_sided = AssumedShape(None, "pooled", True, 0, replace(life, b10=none), [replace(one, b10=none) for one in others])
    assert "nine in ten hold at least 250 play hours (95\u00a0% one-sided" in lives.assumed_sentence(one_sided, HOURS, 0.95, 0)


def test_ranks_have_their_ordinals():
    said = [lives.place_words(Place(one, one, one, 0.0), 30) for one in (1, 2, 3, 4, 11, 12, 13, 21, 22)]
    assert [one.split()[0] for one in said] == ["1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "22nd"]


@pytest.mark.parametrize("count", [1, 5])
def test_the_count_of_failures_between_visits_agrees_with_its_verb(count):
    said = lives.dating_sentence(replace(DATING, between_count=count))
    assert said.startswith("1 failure lies" if count == 1 else "5 failures lie")
    assert "no more than 5" in lives.dating_sentence(replace(DATING, is_misleading=False))


def test_only_faults_beyond_chance_are_named_for_as_many_tests_as_were_made():
    def test(name: str, p_value: float) -> MechanismTest:
        return MechanismTest(name, None, 5.0, 2, p_value, 30, 7)

    said = lives.mechanism_tests_sentence([test("track_wear", 0.001), test("corrosion", 0.03)], 0.95)
    assert "track wear (7 watched only from a later age are left out)" in said
    assert "corrosion" not in said
    assert "No fault is shown" in lives.mechanism_tests_sentence([test("corrosion", 0.03), test("impact", 0.9)], 0.95)


def test_controllers_that_share_their_fate_are_told_from_those_that_hardly_do():
    part = ByController(None, 60, 1.44, b10=known(100), median=known(400))
    assert "limits 1.2 times as wide, from 60 controllers" in lives.controllers_sentence(part, HOURS, 0.95)
    assert "the limits stay about as wide" in lives.controllers_sentence(replace(part, design_effect=1.05), HOURS, 0.95)


FIT = WeibullByCluster(None, known(1.5), known(200), known(800), 1.44, 1.24)


def test_what_sharing_a_controller_does_is_said_as_a_ratio_of_widths():
    assert lives.cluster_fit_sentence(FIT, "controller", HOURS) == (
        "A Weibull law with limits by controller: shape 1.50 (0.75 to 3.00), one in ten by 200 play hours (100 to 400 play "
        "hours), half by 800 play hours (400 to 1,600 play hours); limits about 1.2 times as wide as if sticks were independent."
    )
    assert lives.cluster_fit_sentence(replace(FIT, width_ratio=1.02), "site", HOURS).endswith(
        "limits about as wide as if sticks were independent."
    )
    assert lives.cluster_fit_sentence(replace(FIT, width_ratio=None), "site", HOURS).endswith("1,600 play hours).")


def test_few_sites_cannot_tell_of_another():
    part = BySite(None, 6, 2.0, b10=known(100), median=known(400), weibull=FIT)
    said = lives.sites_sentence(part, HOURS)
    assert said.startswith("Counted by site (6 sites), half by 400 play hours (200 to 800 play hours). A Weibull law")
    assert said.endswith("So few sites cannot tell of a site that is not among them.")
    many = replace(part, sites=10, median=refused(Because.NOT_REACHED), weibull=None)
    assert lives.sites_sentence(many, HOURS) == "Counted by site (10 sites), one in ten by 100 play hours (50 to 200 play hours)."


def test_how_many_are_still_good_is_said_by_the_curve_and_by_the_laws():
    part = SurvivingAt(500, "hours", 40, Estimate(0.83, 0.79, 0.86), Estimate(0.8, 0.7, 0.9), Estimate(0.85, 0.8, 0.9))
    said = lives.surviving_sentence(part, HOURS).replace("\u00a0", " ")
    assert said == (
        "At 500 play hours 83 % are still good (79 to 86 %), 40 still watched then; 80 % by a Weibull law and 85 % by a "
        "lognormal law."
    )
    none = refused(Because.TOO_FEW_FAILURES)
    bare = replace(part, weibull=none, lognormal=none)
    assert lives.surviving_sentence(bare, HOURS, is_after_clean=True).startswith("At 500 play hours after the clean 83")
    assert lives.surviving_sentence(bare, HOURS).endswith("still watched then.")
    beyond = replace(part, curve=refused(Because.NOT_REACHED))
    assert lives.surviving_sentence(beyond, HOURS).replace("\u00a0", " ") == (
        "How many are still good at 500 play hours cannot be told: not reached in this log; it would be 80 % (70 to 90 %) by a "
        "Weibull law and 85 % (80 to 90 %) by a lognormal law."
    )


def test_the_other_law_is_always_held_against_the_weibull():
    assert lives.laws_sentence(LAWS, HOURS).endswith(
        "one in ten fail by 400 play hours (20\u00a0% sooner than by the Weibull) and half by 1,500 play hours "
        "(20\u00a0% later than by the Weibull)."
    )
    like = replace(LAWS, b10_ratio=1.0, median_ratio=None)
    assert "(as by the Weibull)" in lives.laws_sentence(like, HOURS)
    assert lives.laws_sentence(like, HOURS).endswith("(not compared with the Weibull).")


def test_a_limit_beyond_a_hundred_years_is_no_number():
    far = replace(POOLED, median=Estimate(9_000.0, 900.0, 7e11))
    assert "half by 9,000 play hours (900 play hours to over 100 years)" in lives.pooled_sentence(far, HOURS, 0.95, ranked=2)


def test_failures_of_no_recorded_kind_are_no_kind_of_fault():
    none = Mechanism("not_recorded", 25, [])
    assert lives.mechanisms_sentence([none]) == "What was at fault is recorded of none of the 25 failures."
    told = MechanismTest("not_recorded", None, 5.0, 2, 0.001, 30, 0)
    assert lives.mechanism_tests_sentence([told], 0.95).endswith("beyond chance: those not recorded.")


def test_controllers_not_shown_to_differ_may_still_do_so_up_to_a_limit():
    none = Frailty(None, Estimate(0.0, 0.0, 20.6), known(1.3), known(1.3))
    assert lives.frailty_sentence(none, 0.95).endswith("(variance 0.00, 95\u00a0% interval at most 20.60).")
    assert "middle of their interval" in lives.frailty_sentence(Frailty(None, known(0.3), known(1.3), known(1.1)), 0.95)


@pytest.mark.parametrize(
    ("verdict", "word"), [("hours", "by play hours"), ("days", "by days"), ("between", "partly"), ("neither", "neither")]
)
def test_a_clock_is_told_with_its_coefficient(verdict, word):
    said = lives.clock_sentence(ClockQuestion(None, verdict, Estimate(-0.6, -0.8, -0.4), 50), 0.95)
    assert word in said
    assert "−0.60" in said


@pytest.mark.parametrize("because", Because)
def test_whatever_is_refused_is_said_in_words(because):
    none = refused(because)
    said = [
        lives.laws_sentence(Laws(because, None, None, None, None, Lognormal(because, none, none, none, None)), HOURS),
        lives.assumed_sentence(AssumedShape(because, None, False, 0, None, []), HOURS, 0.95, 3),
        lives.dating_sentence(Dating(because, 3, None, None, None, None)),
        lives.interval_sentence(IntervalCurve(because, None, [], none, none), HOURS, 0.95),
        lives.pooled_sentence(PooledLife(because, none, none, Place(None, None, None, None)), HOURS, 0.95, ranked=0),
        lives.controllers_sentence(ByController(because, 2, None, b10=none, median=none), HOURS, 0.95),
        lives.frailty_sentence(Frailty(because, none, none, none), 0.95),
        lives.sites_sentence(BySite(because, 2, None, b10=none, median=none), HOURS),
        lives.cluster_fit_sentence(WeibullByCluster(because, none, none, none, None, None), "site", HOURS),
        lives.surviving_sentence(SurvivingAt(500, "hours", 0, none, none, none), HOURS),
        lives.common_shape_sentence(CommonShape(because, none, None, None, none, none), HOURS, 0.95),
        lives.clock_sentence(ClockQuestion(because, "cannot_tell", none, 3), 0.95),
        lives.mechanism_tests_sentence([MechanismTest("impact", because, None, None, None, 0, 0)], 0.95),
    ]
    for one in said:
        assert one.endswith(".")
        assert not re.search(r"\b(nan|None|inf)\b|_", one)


def test_estimates_without_a_limit_are_still_sentences():
    half = Estimate.within(500.0, 300.0, None)
    said = [
        lives.pooled_sentence(replace(POOLED, median=half), HOURS, 0.95, ranked=12),
        lives.controllers_sentence(ByController(None, 9, 1.5, b10=half, median=refused(Because.NOT_REACHED)), HOURS, 0.95),
        lives.interval_sentence(IntervalCurve(None, 40.0, [], half, refused(Because.NOT_REACHED)), HOURS, 0.95),
        lives.frailty_sentence(Frailty(None, Estimate(0.3, 0.1, None, Because.LIMIT_NOT_REACHED), half, half), 0.95),
        lives.mechanisms_sentence([Mechanism("track_wear", 12, []), Mechanism("not_recorded", 3, [])]),
    ]
    assert said[-1] == "Of 15 failures: track wear 12, not recorded 3."
    for one in said:
        assert not re.search(r"\b(nan|None|inf)\b|_", one)
