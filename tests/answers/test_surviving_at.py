"""How many are still good at the age that is set: given for every group or refused in words, brief or not."""

from __future__ import annotations

import json

import pytest

from pipelines.answers import ask
from pipelines.answers.table import table
from pipelines.answers.text import answer_text
from pipelines.estimates.proportion import wilson
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.logs import EXACT, Log, register
from tests.pipeline.made_fleet import loaded_fleet

HEAD = "job_id unit_id stick family received_on visit_reason finding action outcome"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    with loaded_fleet(1500, 7, tmp_path_factory.mktemp("fleet"), easy=True) as (_, connection):
        yield connection


def at(connection, question: str = "time-to-failure", *, age: float | None = 200, **words):
    return ask(question, connection, clock="days", settings=Settings(age=age), **words)


@pytest.mark.parametrize("is_brief", [True, False])
@pytest.mark.parametrize("question", ["time-to-failure", "recurrence"])
def test_the_share_is_the_step_of_the_groups_own_curve(fleet, question, is_brief):
    groups, steps = at(fleet, question, by=["family"], is_brief=is_brief).groups, 0
    for group in groups:
        part = group.surviving_at
        assert (part.age, part.unit) == (200, "days")
        step = [point for point in group.curve if point.at <= 200][-1]
        if 0 < step.surviving_share < 1 and group.curve[-1].at >= 200:
            assert (part.curve.estimate, part.curve.low, part.curve.high) == step[1:4]
            steps += 1
        if group.weibull.because is None:
            shape, scale = group.weibull.shape.estimate, group.weibull.scale.estimate
            assert part.weibull.estimate == pytest.approx(2.718281828459045 ** -((200 / scale) ** shape))
            assert part.weibull.low < part.weibull.estimate < part.weibull.high
            assert part.lognormal.low < part.lognormal.estimate < part.lognormal.high
        else:
            assert part.weibull.because is group.weibull.because
    assert steps >= len(groups) - 1


def test_a_brief_answer_says_what_the_whole_one_says(fleet):
    brief, whole = (at(fleet, by=["family"], is_brief=one) for one in (True, False))
    assert [one.surviving_at for one in brief.groups] == [one.surviving_at for one in whole.groups]
    assert whole.groups[0].laws.lognormal.b10 == at(fleet, by=["family"], age=None).groups[0].laws.lognormal.b10


def test_the_sentence_is_there_and_only_where_an_age_is_set(fleet):
    (group,) = at(fleet).groups
    assert "At 200 days " in group.sentence
    assert " are still good (" in group.sentence
    (cleans,) = at(fleet, "recurrence").groups
    assert "At 200 days after the clean " in cleans.sentence
    (none,) = at(fleet, age=None).groups
    assert (none.surviving_at, "still good" in none.sentence) == (None, False)
    assert "At 200 days" in " ".join(answer_text(at(fleet)).split())


def test_the_flat_table_has_the_shares(fleet):
    rows = table(at(fleet, by=["family"], is_brief=True))
    shares = [one.surviving_at.curve.estimate for one in at(fleet, by=["family"], is_brief=True).groups]
    assert rows.loc[rows["age"] == "known", "surviving_share_200_days"].tolist() == pytest.approx(shares)
    assert not any("surviving" in name for name in table(at(fleet, by=["family"], age=None, is_brief=True)))


def test_beyond_the_log_the_curve_is_not_reached_and_the_laws_still_are(fleet):
    (group,) = at(fleet, age=5000).groups
    assert group.surviving_at.curve.because is Because.NOT_REACHED
    assert group.surviving_at.weibull.estimate < 0.01
    assert "How many are still good at 5,000 days cannot be told: not reached in this log; it would be" in group.sentence


def test_ten_of_which_none_failed_are_wilsons_ten_of_ten(tmp_path):
    log = Log(tmp_path, units=register(*(f"U{number}" for number in range(10))),
              jobs=f"{HEAD}\nJ1 U99 S Other 2025-06-01 check no_fault_found test_only pass")  # fmt: skip
    answer = log.ask("time-to-failure", clock="days", where={"family": ["Nolm"]}, settings=EXACT.overlaid({"age": 100}))
    (group,) = answer.groups
    assert (group.surviving_at.curve, group.surviving_at.at_risk) == (wilson(10, 10), 10)
    assert (group.surviving_at.weibull.because, group.surviving_at.lognormal.because) == (Because.NO_FAILURES,) * 2
    json.dumps(answer.to_dict(), allow_nan=False)


def test_a_refused_answer_refuses_the_age_too(tmp_path):
    jobs = f"{HEAD}\nJ1 U1 S Nolm 2025-01-05 fault_report fault_confirmed test_only fail"
    (group,) = Log(tmp_path, jobs=jobs).ask("time-to-failure", clock="days", settings=EXACT.overlaid({"age": 3})).groups
    part = group.surviving_at
    assert {part.curve.because, part.weibull.because, part.lognormal.because} == {Because.FAILURES_ONLY}


def test_nothing_watched_has_a_reason_at_every_age(tmp_path):
    log = Log(tmp_path, units=register("U1"), jobs=f"{HEAD}\nJ1 U1 S Nolm 2025-06-01 check no_fault_found test_only pass")
    (group,) = log.ask("recurrence", clock="days", settings=EXACT.overlaid({"age": 3})).groups
    assert group.surviving_at.curve.because is Because.NO_SPELLS
