"""The heavier estimates of lives in an answer: which parts stand, what they refuse, and that they are the estimators' own."""

from __future__ import annotations

import json
import math

import pytest

from pipelines.answers import ask
from pipelines.answers.text import answer_text
from pipelines.estimates.clustered import clustered_life
from pipelines.estimates.lognormal import lognormal
from pipelines.estimates.pooled_life import pooled_life
from pipelines.facts.spells import Spells
from pipelines.settings import Settings
from pipelines.vocabulary import Because, SpellKind
from tests.answers.logs import EXACT, Log, register
from tests.pipeline.made_fleet import loaded_fleet

HEAD = "job_id unit_id stick family received_on visit_reason finding action outcome"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    with loaded_fleet(3000, 5, tmp_path_factory.mktemp("fleet"), easy=True) as (_, connection):
        yield connection


@pytest.fixture(scope="module")
def by_family(fleet):
    return ask("time-to-failure", fleet, by=["family"], clock="days")


def spells(connection) -> Spells:
    return Spells(connection, kind=SpellKind.FIRST_LIFE, is_hours=False, by=["family"], where={})


def known(frame):
    return frame[frame["is_age_known"].astype(bool)]


def failures_log(*days: int, survivors: int, more: str = "") -> dict[str, str]:
    """Return a register and jobs: one unit each that failed on a day of January 2025, and some that never did."""
    units = register(*(f"U{number}" for number in range(len(days) + survivors)))
    jobs = [HEAD] + [
        f"J{number} U{number} S Nolm 2025-01-{day:02d} fault_report fault_confirmed test_only fail"
        for number, day in enumerate(days)
    ]  # fmt: skip
    return {"units": units, "jobs": "\n".join([*jobs, "J99 U999 S Nolm 2025-06-01 check no_fault_found test_only pass", more])}


def test_the_laws_and_the_pooled_lives_are_those_of_the_same_counts(fleet, by_family):
    counts = known(spells(fleet).counts(grid=0))
    for group, fit in zip(by_family.groups, lognormal(counts, by=["family"]), strict=True):
        assert fit.by == (group.by["family"],)
        assert group.laws.because == fit.because
        if fit.because is not None:
            continue
        assert group.laws.lognormal.b10.estimate == pytest.approx(fit.b10.estimate, rel=1e-6)
        difference = 2 * (fit.log_likelihood - group.weibull.log_likelihood)
        assert group.laws.aic_difference == pytest.approx(difference, rel=1e-6)
    lives = pooled_life(counts, by=["family"])
    assert [one.pooled.median.estimate for one in by_family.groups] == pytest.approx(
        [one.median.estimate for one in lives.families], rel=1e-6
    )
    assert by_family.common_shape.shape.estimate == pytest.approx(lives.shape.estimate, rel=1e-6)


def test_limits_by_controller_stand_about_the_estimates_of_the_curve(fleet, by_family):
    found = clustered_life(known(spells(fleet).counts_by_cluster(grid=0)), by=["family"], share=0.5)
    for group, one in zip(by_family.groups, found, strict=True):
        assert group.by_controller.controllers == one.cluster_count
        assert group.by_controller.median == one.life
        assert group.by_controller.median.estimate == group.curve_quantiles["median"].estimate


def test_the_mechanisms_of_a_group_add_up_to_its_failures_and_to_its_curve(by_family):
    for group in by_family.groups:
        assert sum(one.failures for one in group.by_mechanism) == group.counts["failures"]
        assert [one.failures for one in group.by_mechanism] == sorted((one.failures for one in group.by_mechanism), reverse=True)
        assert all(len(one.curve) <= 200 for one in group.by_mechanism)
        shown = [point for point in group.curve if point.is_drawn]
        if not shown:
            assert [one.curve for one in group.by_mechanism] == [[]] * len(group.by_mechanism)
            continue
        ends = [one.curve[-1].failed_share for one in group.by_mechanism]
        assert sum(ends) + shown[-1].surviving_share == pytest.approx(1)
        assert {one.curve[-1].at for one in group.by_mechanism} == {shown[-1].at}


def test_each_mechanism_is_tested_once_across_the_groups(by_family):
    names = {one.mechanism for group in by_family.groups for one in group.by_mechanism}
    assert {one.mechanism for one in by_family.mechanism_tests} == names
    assert all((one.p_value is None) == (one.because is not None) for one in by_family.mechanism_tests)


def test_the_fleet_ages_by_hours(by_family):
    assert by_family.clock_question.verdict == "hours"
    assert by_family.clock_question.coefficient.estimate == pytest.approx(-1, abs=0.25)


def test_a_brief_answer_has_none_of_it_and_the_same_curves(fleet, by_family):
    brief = ask("time-to-failure", fleet, by=["family"], clock="days", is_brief=True)
    assert [one.curve for one in brief.groups] == [one.curve for one in by_family.groups]
    assert (brief.common_shape, brief.clock_question, brief.mechanism_tests) == (None, None, None)
    for group in brief.groups:
        assert (group.laws, group.dating, group.pooled, group.by_controller, group.frailty, group.by_mechanism) == (None,) * 6


def test_no_number_of_the_whole_answer_is_nan_or_infinite(fleet, by_family):
    for answer in (by_family, ask("recurrence", fleet, by=["depth", "family"]), ask("time-to-failure", fleet)):
        json.dumps(answer.to_dict(), allow_nan=False)
        assert_every_missing_estimate_has_a_reason(answer.to_dict())


def assert_every_missing_estimate_has_a_reason(value) -> None:
    if isinstance(value, dict):
        if set(value) == {"estimate", "low", "high", "because"}:
            assert (None in (value["estimate"], value["low"], value["high"])) <= (value["because"] is not None), value
        for one in value.values():
            assert_every_missing_estimate_has_a_reason(one)
    elif isinstance(value, list):
        for one in value:
            assert_every_missing_estimate_has_a_reason(one)


def test_one_group_has_nobody_to_borrow_from_and_the_plot_of_its_laws(fleet):
    answer = ask("time-to-failure", fleet, clock="days")
    (group,) = answer.groups
    assert (group.pooled, answer.common_shape, answer.mechanism_tests) == (None, None, None)
    assert group.laws.better in ("weibull", "lognormal", "too_close")
    assert group.law_plot.points


def test_nothing_failed_gives_a_one_sided_limit_under_the_shape_that_is_set(tmp_path):
    """Ten units were watched for 151 days: the rate is at most −log(0.05) over ten times 151 to the power of 2."""
    log = Log(tmp_path, units=register(*(f"U{number}" for number in range(10))),
              jobs=f"{HEAD}\nJ1 U99 S Other 2025-06-01 check no_fault_found test_only pass")  # fmt: skip
    question = {"clock": "days", "where": {"family": ["Nolm"]}}
    (bare,) = log.ask("time-to-failure", **question).groups
    assert (bare.assumed_shape.because, bare.assumed_shape.life) == (Because.NO_SHAPE, None)
    (group,) = log.ask("time-to-failure", settings=EXACT.overlaid({"assumed_shape": 2}), **question).groups
    assumed = group.assumed_shape
    assert (assumed.because, assumed.shape_from, assumed.is_one_sided) == (None, "setting", True)
    assert [one.shape for one in (assumed.life, *assumed.others)] == [2, 1.5, 2.5]
    assert assumed.life.scale.low == pytest.approx(math.sqrt(10 * 151**2 / -math.log(0.05)))
    assert (assumed.life.b10.estimate, assumed.life.b10.high, assumed.life.b10.because) == (None, None, Because.NO_FAILURES)
    assert (group.laws.because, group.by_mechanism, group.dating, group.interval_curve) == (Because.NO_FAILURES, None, None, None)


@pytest.mark.parametrize("days", [(9,), (9, 9, 9, 9, 9, 9, 9), (5, 9, 14, 14, 20)])
def test_few_failures_or_all_at_once_give_words_and_no_exception(tmp_path, days):
    log = Log(tmp_path, **failures_log(*days, survivors=3))
    answer = log.ask("time-to-failure", clock="days", settings=EXACT.overlaid({"assumed_shape": 1.5}))
    json.dumps(answer.to_dict(), allow_nan=False)
    (group,) = answer.groups
    assert (group.laws.because is None) == (group.weibull.because is None and len(days) >= 6)
    assert group.assumed_shape.life.b10.estimate > 0
    assert "assumed" in answer_text(answer)


def test_groups_with_few_failures_take_the_shape_that_the_groups_share(fleet):
    """A family of which fewer than ten failed is found by its batch, stick and site."""
    answer = ask("time-to-failure", fleet, by=["family", "site"], clock="days")
    few = [one for one in answer.groups if one.assumed_shape is not None]
    assert few
    for group in few:
        assert group.counts["failures"] < 10
        assert group.assumed_shape.shape_from == "pooled"
        assert group.assumed_shape.life.shape == answer.common_shape.shape.estimate
    rest = [one for one in answer.groups if one.laws is not None and one.counts["failures"] >= 10]
    assert all(one.assumed_shape is None for one in rest)


def test_a_refused_answer_has_no_heavier_part(tmp_path):
    jobs = f"{HEAD}\nJ1 U1 S Nolm 2025-01-05 fault_report fault_confirmed test_only fail"
    answer = Log(tmp_path, jobs=jobs).ask("time-to-failure", clock="days")
    (group,) = answer.groups
    assert group.because is Because.FAILURES_ONLY
    assert (group.laws, group.pooled, answer.clock_question, answer.common_shape) == (None, None, None, None)


def test_a_shape_that_is_set_counts_before_the_one_shared(fleet):
    answer = ask("time-to-failure", fleet, by=["family", "site"], clock="days", settings=Settings(assumed_shape=3.0))
    few = [one.assumed_shape for one in answer.groups if one.assumed_shape is not None]
    assert {(one.shape_from, one.life.shape) for one in few} == {("setting", 3.0)}


def test_many_groups_answer_and_say_what_was_too_much(fleet):
    answer = ask("time-to-failure", fleet, by=["family", "site", "stick"], clock="days")
    assert len(answer.groups) > 30
    json.dumps(answer.to_dict(), allow_nan=False)
    assert {one.frailty.because for one in answer.groups if one.frailty} <= set(Because)


def test_sticks_that_always_fail_together_have_no_factor_but_everything_else(tmp_path):
    jobs = [HEAD] + [
        f"J{number}{side} U{number} {side} Nolm 2025-{number % 12 + 1:02d}-{2 * number % 27 + 1:02d} fault_report "
        "fault_confirmed clean_open pass"
        for number in range(40)
        for side in "LR"
    ]
    units = register(*(f"U{number}" for number in range(60)), in_service="2024-12-01").replace(" S ", " L+R ")
    answer = Log(tmp_path, units=units, jobs="\n".join(jobs)).ask("time-to-failure", clock="days")
    (group,) = answer.groups
    assert group.frailty.because is Because.FIT_FAILED
    assert group.weibull.because is None
    assert group.by_controller.design_effect == pytest.approx(2, abs=0.1)
    assert "no fit of a factor that their sticks share settles" in " ".join(answer_text(answer).split())
