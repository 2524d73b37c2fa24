"""Each setting changes what it should, and nothing else."""

from __future__ import annotations

import pytest

from pipelines.settings import Settings
from tests.answers.logs import EXACT, Log, reports
from tests.published.cases import load_case

HOURS = "usage_hours usage_basis"
DAY = {"fit": "2025-02-01", "back": "2025-03-03", "end": "2025-07-01"}


@pytest.fixture(scope="module")
def ten(tmp_path_factory):
    """Ten sticks cleaned on one day at 100 h: two fail the test, three come back after 30 days and 50 h, five hold."""
    cleaned = [f"U{one} {DAY['fit']} clean_flush {'fail' if one < 2 else 'pass'} 100 metered" for one in range(10)]
    back = [f"U{one} {DAY['back']} replace_module pass 150 metered" for one in (2, 3, 4)]
    units = "unit_id family sticks in_service_on new_or_used\n" + "\n".join(f"U{one} Nolm S 2025-01-01 new" for one in range(10))
    read = "unit_id read_on hours source\n" + "\n".join(f"U{one} {DAY['end']} 400 meter" for one in range(10))
    return Log(tmp_path_factory.mktemp("ten"), units=units, usage_readings=read, jobs=reports(*cleaned, *back, columns=HOURS))


@pytest.mark.parametrize(("clock", "horizon"), [("days", 90), ("days", 30), ("days", 150), ("hours", 50), ("hours", 300)])
def test_five_of_ten_hold_to_the_horizon(ten, clock, horizon):
    """Everyone is followed, so the limits are Wilson's for 5 of 10; source: case prop_small."""
    settings = EXACT.overlaid({"horizon": horizon})
    (group,) = ten.ask("cleaning-success", clock=clock, settings=settings).groups
    low, high = load_case("prop_small").expected["5/10"][:2]
    lasting = group.durable
    assert (lasting.horizon, lasting.unit) == (horizon, clock)
    assert (lasting.share, lasting.n_effective) == (pytest.approx(0.5), pytest.approx(10))
    assert (lasting.low, lasting.high) == (pytest.approx(low), pytest.approx(high))
    assert (group.same_day.k, group.same_day.n) == (8, 10)
    assert group.counts == {"attempts": 10, "passed": 8, "followed": 8, "failed_again": 3}


@pytest.mark.parametrize(("clock", "horizon"), [("days", 29), ("hours", 49)])
def test_before_the_first_comes_back_all_that_passed_hold(ten, clock, horizon):
    (group,) = ten.ask("cleaning-success", clock=clock, settings=EXACT.overlaid({"horizon": horizon})).groups
    assert group.durable.share == pytest.approx(0.8)


@pytest.mark.parametrize(("clock", "horizon"), [("days", 151), ("hours", 301)])
def test_beyond_the_end_of_the_log_nobody_was_followed(ten, clock, horizon):
    answer = ten.ask("cleaning-success", clock=clock, settings=EXACT.overlaid({"horizon": horizon}))
    assert (answer.groups[0].durable.share, answer.groups[0].durable.because) == (None, "no_follow_up")
    assert "nobody was followed that long" in answer.sentence


def test_the_horizon_is_ninety_days_unless_said_otherwise(ten):
    (group,) = ten.ask("cleaning-success").groups
    assert (group.durable.horizon, group.durable.unit) == (90, "days")


def test_the_level_moves_the_limits_and_not_the_estimate(ten):
    wide, narrow = (ten.ask("cleaning-success", level=level).groups[0].same_day for level in (0.99, 0.8))
    assert wide.share == narrow.share == 0.8
    assert wide.low < narrow.low < 0.8 < narrow.high < wide.high
    lives = [ten.ask("time-to-failure", clock="days", level=level) for level in (0.99, 0.8)]
    assert [one.level for one in lives] == [0.99, 0.8]
    assert "99\u00a0% interval" in lives[0].sentence


def test_the_number_at_risk_to_draw_changes_what_is_drawn_and_no_number(ten):
    few, many = (
        ten.ask("recurrence", clock="days", settings=EXACT.overlaid({"min_at_risk": one})).groups[0] for one in (2, 8)
    )
    assert [point.surviving_share for point in few.curve] == [point.surviving_share for point in many.curve]
    assert [point.is_drawn for point in few.curve] == [True, True, True]
    assert [point.is_drawn for point in many.curve] == [True, True, False]
    assert few.curve_quantiles == many.curve_quantiles
    default = ten.ask("recurrence", clock="days").groups[0]
    assert (default.drawn_from, few.drawn_from) == (None, 0)


def test_fewer_failures_than_asked_for_give_no_weibull_fit(ten):
    """The first lives are ten that failed and three modules fitted later."""
    enough, too_few = (
        ten.ask("time-to-failure", clock="hours", settings=EXACT.overlaid({"min_failures": one})).groups[0].weibull
        for one in (10, 11)
    )
    assert (enough.because, too_few.because) == (None, "too_few_failures")
    assert enough.shape.estimate > 0
    assert (too_few.shape.estimate, too_few.log_likelihood) == (None, None)


def test_a_grid_rounds_the_times(ten):
    (group,) = ten.ask("recurrence", clock="hours", settings=EXACT.overlaid({"grid": 40})).groups
    assert [point.at for point in group.curve] == [0, 40, 320]


def test_late_notice_moves_failures_to_the_middle_of_the_two_weeks(ten):
    (exact,) = ten.ask("recurrence", clock="days").groups
    (late,) = ten.ask("recurrence", clock="days", settings=EXACT.overlaid({"notice_days": 14})).groups
    assert [point.at for point in exact.curve] == [0, 30, 150]
    assert [point.at for point in late.curve] == [0, 23, 150]


def test_the_quiet_lag_cuts_failures_and_watching_alike(ten):
    (group,) = ten.ask("recurrence", clock="days", settings=Settings(notice_days=0, quiet_lag_days=125)).groups
    assert (group.counts["spells"], group.counts["failures"]) == (8, 0)
    assert [point.at for point in group.curve] == [0, 25]


def test_the_end_of_the_log_can_be_set(ten):
    answer = ten.ask("recurrence", clock="days", settings=EXACT.overlaid({"log_end": "2025-05-01"}))
    assert (answer.log_end, [point.at for point in answer.groups[0].curve]) == ("2025-05-01", [0, 30, 89])


def test_before_the_start_of_the_log_nobody_was_watched(ten):
    answer = ten.ask("time-to-failure", clock="days", settings=EXACT.overlaid({"log_start": "2025-01-21"}))
    began, first, *_ = answer.groups[0].curve
    assert (answer.log_start, first.at, first.at_risk, first.failed) == ("2025-01-21", 31, 13, 10)
    assert began.at_risk == 3  # the modules fitted later; the ten enter at 20 days


def test_filters_on_dates_keep_the_jobs_between(ten):
    (group,) = ten.ask("cleaning-success", where={"from_on": ["2025-02-02"]}).groups
    assert group.because == "no_attempts"
    (group,) = ten.ask("cleaning-success", where={"from_on": ["2025-02-01"], "to_on": ["2025-02-01"]}).groups
    assert group.same_day.n == 10


def test_a_preventive_clean_ends_the_first_life_unless_set_otherwise(tmp_path):
    units = "unit_id family sticks in_service_on new_or_used\n" + "\n".join(f"U{one} Nolm S 2025-01-01 new" for one in range(3))
    jobs = """
    job_id unit_id received_on action    outcome stick family visit_reason finding
    P1     U0      2025-02-01  clean_air pass    S     Nolm   preventive   not_tested
    F1     U0      2025-03-01  clean_air pass    S     Nolm   fault_report fault_confirmed
    C1     U1      2025-04-01  test_only pass    S     Nolm   check        no_fault_found"""
    log = Log(tmp_path, units=units, jobs=jobs)
    ends, runs = (
        log.ask("time-to-failure", clock="days", settings=EXACT.overlaid({"preventive_clean_censors": one})).groups[0]
        for one in (True, False)
    )
    assert (ends.counts["failures"], [point.at for point in ends.curve]) == (0, [0, 31, 90])
    assert (runs.counts["failures"], [point.at for point in runs.curve]) == (1, [0, 59, 90])


def test_a_pass_limit_overrules_the_outcome(tmp_path):
    jobs = reports(*(f"U{one} 2025-02-0{one} clean_flush pass {one}.0" for one in range(1, 7)), columns="al_rest_offset_pct")
    log = Log(tmp_path, jobs=jobs)
    assert log.ask("cleaning-success").groups[0].same_day.k == 6
    strict = log.ask("cleaning-success", settings=EXACT.overlaid({"pass_max_rest_offset_pct": 4}))
    assert (strict.groups[0].same_day.k, strict.groups[0].same_day.n) == (4, 6)
