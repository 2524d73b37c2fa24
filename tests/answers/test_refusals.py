"""Where a log cannot tell, the answer says so with a reason, and gives no number."""

from __future__ import annotations

import json

import pytest

from pipelines.answers.record import Answer
from pipelines.errors import SettingError
from tests.answers.logs import EXACT, Log, months, register, reports

#: Six units fail in six months; the log is watched until July.
SIX = [f"U{month} 2025-{month + 1:02d}-01 clean_flush pass" for month in range(1, 7)]
UNITS = [f"U{month}" for month in range(1, 7)]


def because_of(answer: Answer) -> set[str | None]:
    (group,) = answer.groups
    weibull, read = group.weibull, group.curve_quantiles
    return {one.because for one in (group, weibull, weibull.shape, weibull.b10, *read.values())}


def test_a_log_of_failures_only_has_no_lifetime_but_a_recurrence(tmp_path):
    log = Log(tmp_path, jobs=reports(*SIX, "U1 2025-05-01 replace_module pass"))
    answer = log.ask("time-to-failure")
    assert because_of(answer) == {"failures_only"}
    assert (answer.groups[0].curve, answer.groups[0].drawn_from) == ([], None)
    assert "no register" in answer.sentence
    again = log.ask("recurrence", clock="days").groups[0]
    assert (again.because, again.counts["spells"], again.counts["failures"]) == (None, 5, 1)


def test_a_register_in_which_every_unit_failed_is_a_valid_curve(tmp_path):
    (group,) = Log(tmp_path, units=register(*UNITS), jobs=reports(*SIX)).ask("time-to-failure", clock="days").groups
    assert group.counts == {"modules": 6, "spells": 6, "failures": 6, "assumed_failures": 0}
    assert (group.because, group.weibull.because) == (None, None)
    assert [point.surviving_share for point in group.curve] == pytest.approx([1, 5 / 6, 4 / 6, 3 / 6, 2 / 6, 1 / 6, 0])
    assert (group.curve[-1].low, group.curve[-1].high) == (None, None)


def test_sticks_seen_good_at_the_bench_stand_apart_as_of_unknown_age(tmp_path):
    good = "\n".join(f"G{one} A{one} {on} test_only pass S Nolm check no_fault_found" for one, on in enumerate(months(1, 4)))
    bad = "\n".join(f"B{one} A{one} 2025-0{one + 5}-20 clean_air fail S Nolm fault_report fault_confirmed" for one in range(3))
    head = "job_id unit_id received_on action outcome stick family visit_reason finding"
    answer = Log(tmp_path, jobs=f"{head}\n{good}\n{bad}").ask("time-to-failure", clock="days")
    (group,) = answer.groups
    assert because_of(answer) == {"no_spells"}
    assert (group.since_first_seen.counts["spells"], group.since_first_seen.counts["failures"]) == (4, 3)
    assert [point.at for point in group.since_first_seen.curve] == [0, 110, 139, 141]
    assert answer.left_out["age_unknown"] == 4
    assert any("units seen at the bench" in warning for warning in answer.warnings)


@pytest.fixture(scope="module")
def without_hours(tmp_path_factory):
    """Six failures with a meter; six survivors whose meter nobody read."""
    jobs = reports(*(f"{row} {100 * place} metered" for place, row in enumerate(SIX, start=1)), columns="usage_hours usage_basis")
    units = register(*UNITS, *(f"W{one}" for one in range(6)))
    return Log(tmp_path_factory.mktemp("without_hours"), units=units, jobs=jobs)


def test_without_play_hours_the_answer_falls_back_to_days_and_says_so(without_hours):
    answer = without_hours.ask("time-to-failure")
    assert (answer.clock, answer.groups[0].counts["spells"], answer.left_out["no_usable_hours"]) == ("days", 12, 0)
    assert any("play hours are missing for 6 of 12" in warning for warning in answer.warnings)


def test_without_play_hours_the_hour_clock_is_refused(without_hours):
    answer = without_hours.ask("time-to-failure", clock="hours")
    assert (answer.clock, because_of(answer), answer.left_out["no_usable_hours"]) == ("hours", {"clock_refused"}, 6)
    assert "--clock days" in answer.sentence


def test_without_play_hours_durable_success_in_hours_is_refused_and_same_day_is_not(without_hours):
    (group,) = without_hours.ask("cleaning-success", clock="hours").groups
    assert (group.durable.because, group.durable.share, group.same_day.k) == ("clock_refused", None, 6)


def test_a_batch_known_of_failures_only_has_no_denominator(tmp_path):
    jobs = reports(*(f"{row} B-{place % 2}" for place, row in enumerate(SIX)), columns="part_batch_found")
    log = Log(tmp_path, units=register(*UNITS, "W1", "W2", "W3:2025-05-01"), jobs=jobs)
    answer = log.ask("time-to-failure", clock="days", by=["batch"])
    assert {group.because for group in answer.groups} == {group.weibull.because for group in answer.groups} == {"no_denominator"}
    assert [group.counts["failures"] for group in answer.groups] == [3, 3, 0]
    assert log.ask("time-to-failure", clock="days").groups[0].because is None


@pytest.fixture(scope="module")
def quiet(tmp_path_factory):
    """Four units watched for half a year: Nolm has two that did not fail; of the pair Alta one failed, Solo stands alone."""
    units = register("U1", "U2") + "\nA1 Alta S 2025-01-01 new - -\nA2 Alta S 2025-01-01 new - -\nS1 Solo S 2025-01-01 new - -"
    jobs = """
    job_id unit_id received_on action      outcome stick family visit_reason finding
    J1     A1      2025-03-01  clean_flush pass    S     Alta   fault_report fault_confirmed
    J2     S1      2025-03-11  clean_flush fail    S     Solo   fault_report fault_confirmed
    J3     U1      2025-07-01  test_only   pass    S     Nolm   check        no_fault_found"""
    return Log(tmp_path_factory.mktemp("quiet"), units=units, jobs=jobs)


def test_without_a_failure_no_lifetime_is_told(quiet):
    answer = quiet.ask("time-to-failure", clock="days", where={"family": ["Nolm"]})
    (group,) = answer.groups
    assert (group.because, group.weibull.because, group.counts["failures"]) == ("no_failures", "no_failures", 0)
    assert {one.because for one in group.curve_quantiles.values()} == {"not_reached"}
    assert [point.surviving_share for point in group.curve] == [1, 1]
    assert "No failure was recorded" in answer.sentence


def test_one_failure_gives_a_curve_and_no_weibull(quiet):
    (group,) = quiet.ask("time-to-failure", clock="days", where={"family": ["Alta"]}).groups
    assert (group.because, group.weibull.because, group.weibull.log_likelihood) == (None, "too_few_failures", None)
    assert group.curve_quantiles["b10"].estimate == group.curve_quantiles["median"].estimate == 59
    assert [point.surviving_share for point in group.curve] == [1, 0.5, 0.5]


def test_a_group_of_one_is_shown_and_called_too_few(quiet):
    answer = quiet.ask("time-to-failure", clock="days", by=["family"])
    assert [(group.by["family"], group.counts["spells"]) for group in answer.groups] == [("Alta", 2), ("Nolm", 2), ("Solo", 1)]
    assert answer.groups[2].drawn_from is None
    assert "too few to say" in answer.groups[2].sentence
    assert [group.same_day.n for group in quiet.ask("cleaning-success", by=["family"]).groups] == [1, 1]


def test_a_filter_that_nothing_fits_leaves_one_group_with_nothing_to_say(quiet):
    for question in ("time-to-failure", "recurrence", "cleaning-success"):
        answer = quiet.ask(question, where={"family": ["Nobody"]})
        assert [group.because for group in answer.groups] == ["no_attempts" if "clean" in question else "no_spells"]
        assert answer.sentence.startswith("Nothing to say")
        assert quiet.ask(question, by=["family"], where={"family": ["Nobody"]}).groups == []
        json.dumps(answer.to_dict(), allow_nan=False)


def test_failed_cleans_have_no_recurrence(quiet):
    (group,) = quiet.ask("recurrence", where={"family": ["Solo"]}, clock="days").groups
    assert (group.because, group.counts["spells"]) == ("no_spells", 0)


@pytest.mark.parametrize(
    ("words", "named"),
    [
        ({"where": {"colour": ["red"]}}, "colour"),
        ({"by": ["depth"]}, "depth"),
        ({"where": {"from_on": ["spring"]}}, "spring"),
        ({"clock": "moons"}, "moons"),
        ({"level": 95.0}, "95"),
    ],
)
def test_a_word_that_the_question_does_not_know_is_named(quiet, words, named):
    with pytest.raises(SettingError, match=named) as raised:
        quiet.ask("time-to-failure", **words)
    assert raised.value.exit_code == 5


def test_a_question_that_does_not_exist_is_named(quiet):
    with pytest.raises(SettingError, match="weather"):
        quiet.ask("weather")


def test_names_of_the_job_log_are_understood(tmp_path):
    jobs = reports(*(f"{row} N track_wear" for row in SIX), columns="site_id failure_mechanism")
    log = Log(tmp_path, units=register(*UNITS), jobs=jobs)
    answer = log.ask("cleaning-success", by=["site_id"], where={"failure_mechanism": ["track_wear"]}, settings=EXACT)
    assert (answer.by, answer.where, answer.groups[0].by) == (["site"], {"mechanism": ["track_wear"]}, {"site": "N"})
    assert answer.groups[0].worn_track == answer.groups[0].same_day
    assert "6 were on a worn track" in answer.sentence


def test_failures_on_the_first_day_are_said_where_they_are_many(tmp_path):
    early = ["U1 2025-01-01 clean_air pass", *SIX[1:]]
    answer = Log(tmp_path / "many", units=register(*UNITS), jobs=reports(*early)).ask("time-to-failure", clock="days")
    (warning,) = [one for one in answer.warnings if "no length" in one]
    assert warning.startswith("1 of 6 failures fell on the day watching began")
    assert (answer.left_out["no_length"], answer.groups[0].counts["failures"]) == (1, 5)
    none = Log(tmp_path / "none", units=register(*UNITS), jobs=reports(*SIX)).ask("time-to-failure", clock="days")
    assert not any("no length" in one for one in none.warnings)
