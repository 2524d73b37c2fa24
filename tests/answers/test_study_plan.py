"""A planned study: a fleet of known law, what is given and what is asked for, refusals in words, and the page of the JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields

import numpy as np
import pytest

from pipelines.answers import ask
from pipelines.answers.study_case import StudyCase
from pipelines.answers.study_plan_record import LifeTest, RatioPlan, StudyGroup, StudyPlan, StudySize
from pipelines.answers.study_plan_text import study_plan_csv, study_plan_text
from pipelines.errors import SettingError
from pipelines.estimates.demonstration import Demonstration
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.logs import EXACT, Log, register
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet

COMPUTER_WORD = re.compile(r"\b(nan|None|inf|NaN|null|Estimate)\b")


@pytest.fixture(scope="module")
def log(tmp_path_factory) -> Log:
    """Return 400 single sticks, new on one day, lives Weibull with shape 2 and scale 500 days, watched for a year."""
    rng = np.random.default_rng(5)
    lives = np.ceil(500 * rng.weibull(2.0, 400)).astype(int)
    first = np.datetime64("2025-01-01")
    jobs = [
        f"J{number} U{number} {first + day} clean_open pass S Nolm fault_report fault_confirmed"
        for number, day in enumerate(lives) if day <= 365
    ]  # fmt: skip
    jobs.append("J999 U0 2026-01-01 test_only pass S Nolm check no_fault_found")
    return Log(
        tmp_path_factory.mktemp("study"), units=register(*(f"U{number}" for number in range(400))),
        jobs="\n".join(["job_id unit_id received_on action outcome stick family visit_reason finding", *jobs]),
    )  # fmt: skip


def plan(log: Log, *, settings: Settings = EXACT, **case: str) -> StudyPlan:
    from pipelines import warehouse

    with warehouse.reading(log.path) as connection:
        answer = ask("study-plan", connection, clock="days", settings=settings, case=case)
    assert not COMPUTER_WORD.search(study_plan_text(answer))
    json.dumps(answer.to_dict(), allow_nan=False)
    return answer


def test_the_law_is_that_of_the_fleet_and_the_limits_hold_what_the_truth_needs(log):
    from pipelines.estimates.study_plan import Study, modules_needed

    answer = plan(log, ratio="2", months="12")
    group = answer.groups[0]
    assert group.shape.low < 2.0 < group.shape.high
    truth = modules_needed(Study(2.0), np.array([365.25]), np.log([2.0]), np.log([500.0]))[0, 0]
    size = group.ratios[0].wanted
    assert size.modules.low <= truth <= size.modules.high
    assert size.new_modules == np.ceil(size.modules.estimate / 2)
    assert group.design_effect == pytest.approx(1, abs=0.2)
    assert f"{size.modules.estimate:,.0f} modules" in answer.sentence


def test_more_failures_on_record_narrow_the_range(log):
    size = plan(log, ratio="2", months="12").groups[0].ratios[0].wanted.modules
    assert 1.03 < size.high / size.low < 1.6


def test_months_and_modules_undo_each_other(log):
    size = plan(log, ratio="2", months="9").groups[0].ratios[0].wanted
    count = f"{size.modules.estimate:.0f}"
    back = plan(log, ratio="2", modules=count)
    assert back.groups[0].ratios[0].needed_months == pytest.approx(9, abs=0.1)
    assert f"With {count} modules it takes 9" in back.sentence
    both = plan(log, ratio="2", modules=count, months="9").groups[0].ratios[0].shown_chance
    assert both.estimate == pytest.approx(0.8, abs=0.01)
    assert both.low < 0.8 < both.high
    assert "more than 48 months" in plan(log, ratio="1.5", modules="10").sentence


def test_the_known_law_takes_the_failures_of_the_exact_test(log):
    plans = plan(log, ratio="1.5,2,3").groups[0].ratios
    assert [one.if_known for one in plans] == [
        np.ceil(known * plan(log).groups[0].design_effect) for known in (31, 10, 4)
    ]  # fmt: skip


def test_a_price_is_reckoned_with_only_where_one_is_given(log):
    assert all(one.cost is None for one in plan(log).groups[0].ratios[0].sizes)
    priced = plan(log, settings=Settings(notice_days=0, quiet_lag_days=0, part_cost=2.5), life="200")
    assert all(one.cost == 2.5 * one.new_modules for one in priced.groups[0].ratios[0].sizes)
    assert priced.test.costs[0] == 2.5 * priced.test.plans[0].module_count


def test_tests_of_a_life_need_no_failures_on_record(tmp_path):
    bare = Log(
        tmp_path, units=register("U1", "U2"),
        jobs="job_id unit_id received_on action outcome stick family visit_reason finding\n"
        "J1 U1 2025-06-01 test_only pass S Nolm check no_fault_found",
    )  # fmt: skip
    answer = plan(bare, life="300", shape="2")
    assert answer.because is Because.NO_FAILURES
    assert "no failure was recorded" in answer.sentence
    assert {one.module_count for one in answer.test.plans if one.test_time == 300} == {22, 38, 52}
    assert plan(bare, life="300").test.because is Because.NO_SHAPE
    assert plan(bare).test.because is Because.NOT_GIVEN
    assert study_plan_csv(answer).startswith("failures_allowed") or "because" in study_plan_csv(answer)


def test_the_shape_of_the_record_is_taken_where_none_is_given(log):
    answer = plan(log, life="200", test_time="90")
    assert answer.test.shape_from == "record"
    assert answer.test.shape == answer.groups[0].shape.estimate
    assert 90 in [one.test_time for one in answer.test.plans]
    assert [float(one) for one in answer.test.other_shapes] == pytest.approx(
        [answer.test.shape - 0.5, answer.test.shape + 0.5], abs=0.01
    )  # fmt: skip


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ({"ratio": "0.5"}, "out of range"),
        ({"months": "6", "enrol_months": "8"}, "ends before its last module"),
        ({"new_share": "half"}, "no number"),
        ({"modules": "12.5"}, "not a whole number"),
        ({"modules_per_controller": "3"}, "out of range"),
        ({"batch": "B1"}, "no 'batch'"),
    ],
)
def test_what_cannot_be_planned_is_refused_in_words(log, case, said):
    with pytest.raises(SettingError, match=said):
        plan(log, **case)


def test_the_json_holds_the_keys_of_the_page_and_no_others(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (_, connection):
        answer = ask("study-plan", connection, by=["family"], clock="days", case={"months": "12", "life": "300", "shape": "2"})
        filtered = ask("study-plan", connection, where={"stick": ["L"]}, clock="days")
    assert sum(one.counts["spells"] for one in filtered.groups) < sum(one.counts["spells"] for one in answer.groups)
    plain, title = json.loads(json.dumps(answer.to_dict(), allow_nan=False)), "`study-plan`"
    told = next(one for one in plain["groups"] if one["ratios"])
    inner = {"ratio", "if_known"}
    assert set(plain) | set(told) | {"sizes", "plans"} == keys(title)
    assert set(plain) == {one.name for one in fields(StudyPlan)}
    assert set(told) == {one.name for one in fields(StudyGroup)}
    assert set(plain["case"]) == {one.name for one in fields(StudyCase)} == inside(title, "case")
    assert set(told["counts"]) == inside(title, "counts") - {"groups"}
    assert {one.name for one in fields(RatioPlan)} >= inner
    assert {one.name for one in fields(RatioPlan)} == inside(title, "ratios") - {"groups", "months", "modules"}
    assert {one.name for one in fields(StudySize)} == inside(title, "sizes") - {"ratios", "wanted", "part_cost"}
    assert {one.name for one in fields(LifeTest)} <= inside(title, "test")
    assert {one.name for one in fields(Demonstration)} <= inside(title, "plans")
