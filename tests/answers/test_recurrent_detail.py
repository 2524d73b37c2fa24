"""How often controllers fail, in the answer of recurrence: counted by hand, and said why where nothing can be told."""

from __future__ import annotations

import json
from dataclasses import astuple

import pandas as pd
import pytest

from pipelines.answers.recurrent_detail import MOST_POINTS
from pipelines.estimates.mean_cumulative import mean_cumulative
from tests.answers.logs import EXACT, Log, register, reports

ALWAYS = EXACT.overlaid({"min_at_risk": 1, "min_failures": 2})
#: By hand: watched from January to the last day, 2025-07-01, which is day 181.
JOBS = ("U1 2025-02-10 clean_flush pass", "U1 2025-04-01 replace_module pass", "U2 2025-04-01 clean_air pass",
        "U3 2025-05-21 test_only fail", "W1 2025-07-01 clean_air pass")  # fmt: skip


@pytest.fixture(scope="module")
def four(tmp_path_factory):
    """Four new controllers, failed on days 40 and 90, 90, 140 and 181."""
    return Log(tmp_path_factory.mktemp("four"), units=register("U1", "U2", "U3", "W1"), jobs=reports(*JOBS))


def test_the_mean_number_of_failures_is_counted_over_the_controllers_watched(four):
    (group,) = four.ask("recurrence", clock="days", settings=ALWAYS).groups
    part = group.mean_cumulative
    assert (part.because, part.units, part.failures, part.counted_from, part.drawn_to) == (None, 4, 5, 0, 181)
    seen = [(one.at, one.failed, one.at_risk) for one in part.curve]
    # U3 is out from day 140 on, found bad and never put right
    assert seen == [(0, 0, 4), (40, 1, 4), (90, 2, 4), (140, 1, 4), (181, 1, 3)]
    assert [one.mean_count for one in part.curve] == pytest.approx([0, 1 / 4, 3 / 4, 1, 4 / 3])
    assert (part.curve[0].low, part.curve[0].high) == (None, None)
    assert part.overall.estimate == pytest.approx(4 / 3)
    # the failures that ended a watch tell nothing of a trend
    assert (part.trend.tested, part.trend.because) == (3, None)


def test_few_controllers_are_a_reason_and_not_a_number(four):
    (group,) = four.ask("recurrence", clock="days").groups
    part = group.mean_cumulative
    assert (part.because, part.overall.estimate, part.drawn_to) == ("too_few_at_risk", None, None)
    assert (part.trend.because, part.trend.verdict, part.trend.p_value) == ("too_few_failures", "too_few", None)
    assert not any(one.is_drawn for one in part.curve)


def test_histories_have_no_columns_of_a_clean(four):
    for words in ({"by": ["depth"]}, {"by": ["family", "attempt_number"]}, {"by": ["stick"]}, {"where": {"mechanism": ["x"]}}):
        answer = four.ask("recurrence", clock="days", settings=ALWAYS, **words)
        assert {group.mean_cumulative for group in answer.groups} <= {None}
        assert answer.mean_difference is None
    assert four.ask("recurrence", clock="days", settings=ALWAYS, is_brief=True).groups[0].mean_cumulative is None
    assert four.ask("time-to-failure", clock="days", settings=ALWAYS).groups[0].mean_cumulative is None


def test_a_refused_clock_refuses_the_histories_too(four):
    (group,) = four.ask("recurrence", clock="hours", settings=ALWAYS).groups
    assert (group.because, group.mean_cumulative) == ("clock_refused", None)


def fleet(**families: tuple[int, int]) -> dict[str, str]:
    """Return tables of families: how many controllers, each failing at so many visits, evenly over 360 days."""
    units, jobs = ["unit_id family sticks in_service_on new_or_used"], []
    for family, (count, failures) in families.items():
        for one in range(count):
            unit = f"{family}{one}"
            units.append(f"{unit} {family} S 2025-01-01 new")
            days = pd.date_range("2025-01-01", periods=failures + 2, freq=f"{360 // (failures + 1) - one % 3}D")[1:-1]
            jobs += [f"{unit} {family} {day:%Y-%m-%d} fault_report fault_confirmed clean_flush pass" for day in days]
            jobs.append(f"{unit} {family} 2025-12-27 check no_fault_found test_only pass")
    head = "job_id unit_id family received_on visit_reason finding action outcome stick"
    return {"units": "\n".join(units), "jobs": "\n".join([head, *(f"J{place} {row} S" for place, row in enumerate(jobs))])}


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    return Log(tmp_path_factory.mktemp("pair"), **fleet(Calm=(12, 1), Wild=(15, 4)))


def test_two_groups_are_compared_the_second_less_the_first(pair):
    answer = pair.ask("recurrence", clock="days", by=["family"])
    gap = answer.mean_difference
    assert (gap.first, gap.second, gap.because, gap.is_shown) == ({"family": "Calm"}, {"family": "Wild"}, None, True)
    assert gap.overall.estimate == pytest.approx(3)
    assert 0 < gap.overall.low < 3 < gap.overall.high
    calm, wild = (group.mean_cumulative for group in answer.groups)
    assert (calm.units, calm.failures, wild.units, wild.failures) == (12, 12, 15, 60)
    assert (calm.overall.estimate, wild.overall.estimate) == (pytest.approx(1), pytest.approx(4))
    alone = pair.ask("recurrence", clock="days", where={"family": ["Wild"]})
    assert alone.groups[0].mean_cumulative == wild
    assert alone.mean_difference is None
    json.dumps(answer.to_dict(), allow_nan=False)


def test_a_family_that_was_never_watched_from_new_has_no_part(tmp_path):
    tables = fleet(Calm=(12, 2))
    # of Used the age is not known: it was bought used, without a meter
    tables["units"] += "\nX1 Used S 2025-01-01 used"
    tables["jobs"] += "\nJX1 X1 Used 2025-03-01 fault_report fault_confirmed clean_air pass S"
    answer = Log(tmp_path, **tables).ask("recurrence", clock="days", by=["family"])
    assert [(group.by["family"], group.mean_cumulative is None) for group in answer.groups] == [("Calm", False), ("Used", True)]
    assert answer.mean_difference is None


def test_a_filter_that_nothing_fits_has_no_part(pair):
    (group,) = pair.ask("recurrence", clock="days", where={"family": ["Nobody"]}).groups
    assert group.mean_cumulative is None


def test_a_long_curve_is_thinned_and_keeps_its_ends_and_its_failures(tmp_path):
    count = 300
    # everybody fails once, each on a day of its own
    units = register(*(f"U{one}" for one in range(count)))
    days = pd.date_range("2025-01-02", periods=count)
    jobs = reports(*(f"U{one} {day:%Y-%m-%d} clean_air pass" for one, day in enumerate(days)))
    (group,) = Log(tmp_path, units=units, jobs=jobs).ask("recurrence", clock="days").groups
    points = group.mean_cumulative.curve
    assert MOST_POINTS <= len(points) <= MOST_POINTS + 1
    events = pd.DataFrame({"unit": range(count), "at": range(1, count + 1)})
    whole = mean_cumulative(events, pd.DataFrame({"unit": range(count), "entry": 0, "exit": count}), by=[])[0]
    assert sum(one.failed for one in points) == whole.failures == count
    heights = dict(zip(whole.curve["at"], whole.curve["mean_count"], strict=True))
    assert [one.mean_count for one in points] == pytest.approx([heights[one.at] for one in points])
    assert (points[0].at, points[-1].at) == (0, count)
    assert astuple(group.mean_cumulative.overall)[:3] == pytest.approx(astuple(whole.overall)[:3])
