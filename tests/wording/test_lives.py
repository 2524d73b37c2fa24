"""What the heavier estimates of lives say of a group and of an answer; that a refusal is said in words."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from pipelines.answers.detail import (
    ByController,
    BySite,
    ClockQuestion,
    CommonShape,
    Dating,
    Frailty,
    IntervalCurve,
    Mechanism,
    MechanismTest,
    Place,
    PooledLife,
    WeibullByCluster,
)
from pipelines.answers.laws_record import AssumedShape, Laws, Lognormal, SurvivingAt
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from pipelines.wording import between, clock, clusters, laws, lives, mechanisms, pooling
from tests.wording.lives_parts import COMMON, DATING, GROUP, HOURS, LAWS, POOLED, refused


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
    assert "is in doubt (p = 0.03)" in pooling.common_shape_sentence(replace(COMMON, p_value=0.03), HOURS)
    groups = [replace(GROUP, by={"family": name}, pooled=POOLED, laws=LAWS) for name in ("Nolm", "Orin")]
    assert "fits clearly better for Nolm, Orin: prefer" in pooling.pooled_doubt_sentence(groups)
    assert pooling.pooled_doubt_sentence([replace(GROUP, pooled=POOLED)]) == ""


@pytest.mark.parametrize("because", Because)
def test_whatever_is_refused_is_said_in_words(because):
    none = refused(because)
    said = [
        laws.laws_sentence(Laws(because, None, None, None, None, Lognormal(because, none, none, none, None)), HOURS),
        laws.assumed_sentence(AssumedShape(because, None, False, 0, None, []), HOURS, 0.95, 3),
        between.dating_sentence(Dating(because, 3, None, None, None, None)),
        between.interval_sentence(IntervalCurve(because, None, [], none, none), HOURS),
        pooling.pooled_sentence(PooledLife(because, none, none, Place(None, None, None, None)), HOURS, ranked=0),
        clusters.controllers_sentence(ByController(because, 2, None, b10=none, median=none), HOURS),
        clusters.frailty_sentence(Frailty(because, none, none, none), 0.95),
        clusters.sites_sentence(BySite(because, 2, None, b10=none, median=none), HOURS),
        clusters.cluster_fit_sentence(WeibullByCluster(because, none, none, none, None, None), "site", HOURS),
        laws.surviving_sentence(SurvivingAt(500, "hours", 0, none, none, none), HOURS),
        pooling.common_shape_sentence(CommonShape(because, none, None, None, none, none), HOURS),
        clock.clock_sentence(ClockQuestion(because, "cannot_tell", none, 3), 0.95),
        mechanisms.mechanism_tests_sentence([MechanismTest("impact", because, None, None, None, 0, 0)], 0.95),
    ]
    for one in said:
        assert one.endswith(".")
        assert not re.search(r"\b(nan|None|inf)\b|_", one)


def test_estimates_without_a_limit_are_still_sentences():
    half = Estimate.within(500.0, 300.0, None)
    said = [
        pooling.pooled_sentence(replace(POOLED, median=half), HOURS, ranked=12),
        clusters.controllers_sentence(ByController(None, 9, 1.5, b10=half, median=refused(Because.NOT_REACHED)), HOURS),
        between.interval_sentence(IntervalCurve(None, 40.0, [], half, refused(Because.NOT_REACHED)), HOURS),
        clusters.frailty_sentence(Frailty(None, Estimate(0.3, 0.1, None, Because.LIMIT_NOT_REACHED), half, half), 0.95),
        mechanisms.mechanisms_sentence([Mechanism("track_wear", 12, []), Mechanism("not_recorded", 3, [])]),
    ]
    assert said[-1] == "Of 15 failures: track wear 12, not recorded 3."
    for one in said:
        assert not re.search(r"\b(nan|None|inf)\b|_", one)
