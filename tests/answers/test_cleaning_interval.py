"""Planned cleaning from a log to the answer: a known truth, costs by hand, what is asked for, refusals, and the JSON's page."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.cleaning_interval import interval_of
from pipelines.answers.cleaning_interval_record import CleaningInterval, Harm, IntervalGroup, Restored, Slot, Use
from pipelines.answers.cleaning_interval_text import interval_csv, interval_table, interval_text, verdict_lines
from pipelines.answers.cleaning_record import cleaning_record
from pipelines.answers.question import asked
from pipelines.decisions.cleaning_interval import CostPoint, Planned, fleet_rates
from pipelines.errors import SettingError
from pipelines.estimates.renewal_cost import Renewal
from pipelines.facts.floor import Downtime
from pipelines.load import load
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Calendar, CalendarWhy
from pipelines.wording.verdict import share_words
from tests.answers.test_contract import inside, keys, section
from tests.pipeline.made_fleet import loaded_fleet

GIVEN = {
    "labour_per_hour": 20.0, "clean_minutes": 6.0, "consumables_per_clean": 0.5, "replace_minutes": 30.0, "part_cost": 4.0,
    "callout_cost": 6.0, "downtime_hours": 2.0, "downtime_per_hour": 4.0, "refund_per_fault": 1.0, "harm_share": 0.02,
}  # fmt: skip
EXACT = {"notice_days": 0.0, "quiet_lag_days": 0}


def write_fleet(folder, *, shape: float = 2.5, units: int = 100, has_hours: bool = True) -> None:
    """Write a log of controllers with one stick, played 20 h a week to 2,000 h: dirt by a law of scale 400 h, cleaned with 0.3
    of the age kept, and wear every 4,000 h, which takes a new module."""
    rng, start = np.random.default_rng(4), pd.Timestamp("2024-01-01")
    jobs, last = [], (start + pd.Timedelta(days=700)).date()
    for unit in range(units):
        age = now = 0.0
        while True:
            failed = 400 * ((age / 400) ** shape + rng.exponential()) ** (1 / shape)
            worn = rng.exponential(4000)
            is_dirt = failed - age < worn
            now += min(failed - age, worn)
            if now > 2000:
                break
            age = 0.3 * failed if is_dirt else 0.0
            found = ("clean_open", "contamination") if is_dirt else ("replace_module", "track_wear")
            day = (start + pd.Timedelta(days=round(now * 7 / 20))).date()
            jobs.append((f"u{unit}", day, "fault_report", "fault_confirmed", *found, round(now, 2)))
        jobs.append((f"u{unit}", last, "check", "no_fault_found", "test_only", None, 2000.0))
    head = ["unit_id", "received_on", "visit_reason", "finding", "action", "failure_mechanism", "usage_hours"]
    frame = pd.DataFrame(jobs, columns=head).assign(stick="S", outcome="pass", usage_basis="metered")
    family = {f"u{unit}": "=Nolm" if unit % 2 else "Velm" for unit in range(units)}
    frame = frame.assign(family=frame["unit_id"].map(family), job_id=[f"J{place}" for place in range(len(frame))])
    register = pd.DataFrame(family.items(), columns=["unit_id", "family"])
    register = register.assign(sticks="S", in_service_on=start.date(), new_or_used="new")
    folder.mkdir(parents=True)
    frame.drop(columns=[] if has_hours else ["usage_hours", "usage_basis"]).to_csv(folder / "jobs.csv", index=False)
    register.to_csv(folder / "units.csv", index=False)


@pytest.fixture(scope="module")
def by_hours(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hours")
    write_fleet(folder / "exports")
    load([folder / "exports"], warehouse=folder / "warehouse", settings=Settings(**EXACT))
    return folder / "warehouse"


@pytest.fixture(scope="module")
def record(by_hours):
    with warehouse.reading(by_hours) as connection:
        return cleaning_record(connection, words())


def words(*, by=(), case=None, **settings):
    chosen = Settings(**{**EXACT, **settings})
    return asked("cleaning-interval", by=by, where={}, clock=None, level=None, settings=chosen, case=case)


def weighed(record, *, case=None, **settings) -> CleaningInterval:
    return interval_of(record, words(case=case, **{**GIVEN, **settings}))


def answer(path, *, by=(), **settings) -> CleaningInterval:
    with warehouse.reading(path) as connection:
        return ask("cleaning-interval", connection, by=list(by), settings=Settings(**{**EXACT, **GIVEN, **settings}))


def test_a_known_truth_is_found_from_the_log_in_play_hours(by_hours):
    found = answer(by_hours)
    (group,) = found.groups
    assert (found.clock, found.because, found.warnings) == ("hours", None, [])
    assert group.shape.low < 2.5 < group.shape.high
    assert group.restored.share.estimate == pytest.approx(0.7, abs=0.08)
    assert group.is_by_cause
    assert group.counts["failures_counted"] < group.counts["failures"]
    assert group.put_right == {"cleaned": group.counts["failures_counted"], "other_repair": 0, "new_part": 0}
    # 6 minutes at 20 an hour and supplies; a fault besides: going for it, two hours at 4, the refund
    assert group.costs == pytest.approx({"planned": 2.5, "fault": 2.5 + 6 + 8 + 1})
    assert group.use.median_h == pytest.approx(20, rel=0.01)
    assert (group.planned.verdict, group.planned.why) == (Calendar.CLEAN, CalendarWhy.SAVES)
    truth = Renewal(2.5, 400.0, 0.3, 0.3, other_rate=1 / 4000)
    after = np.array([group.slot.interval, *np.geomspace(20, 2000, 200), np.inf])
    faults, cleans = fleet_rates(truth, np.array([0.0]), after)
    cost = (17.5 * (faults + 0.02 * cleans) + 2.5 * cleans)[0]
    assert cost[0] <= 1.02 * cost.min()
    assert group.slot.saving.low < 1 - cost[0] / cost[-1] < group.slot.saving.high
    assert group.slot.is_as_good
    assert group.slot.interval == pytest.approx(group.slot.days * 20 / 7, rel=0.01)
    assert found.sentence.startswith("Clean each stick every ")
    assert "play hours at the usual 20 h a week" in found.sentence
    # every draw saves, and draws are only so many
    assert group.planned.saves_chance == 1
    assert "anything at all has a chance of over 99\u00a0%." in found.sentence


def test_hours_of_the_downtime_table_are_said_to_be_by_the_clock_and_what_they_make(record):
    told = replace(record, downtime=Downtime(12, 30.5, 0, None))
    found = weighed(told, downtime_hours=None)
    (note,) = found.warnings
    share = 30.5 * 4 / found.groups[0].costs["fault"]
    assert "nights and closed days too: 30.5 hours for each fault" in note
    assert f"makes {share_words(share)} of what a fault costs. Give 'seat out of use'" in note
    assert "30.5 hours" in " ".join(interval_text(found).split())
    assert weighed(told).warnings == []  # given: nothing to mind


def test_without_readings_days_are_taken_and_what_is_lost_is_said(tmp_path):
    write_fleet(tmp_path / "exports", has_hours=False)
    load([tmp_path / "exports"], warehouse=tmp_path / "warehouse", settings=Settings(**EXACT))
    found = answer(tmp_path / "warehouse")
    assert found.clock == "days"
    assert any("for lack of play hours" in one for one in found.warnings)
    (group,) = found.groups
    assert group.planned.verdict is Calendar.CLEAN
    assert (group.use.median_h, group.slot.low_days, group.slot.high_days) == (None, None, None)
    assert "play hours" not in found.sentence


def test_where_faults_do_not_come_with_age_it_would_buy_nothing(tmp_path):
    write_fleet(tmp_path / "exports", shape=1.0)
    load([tmp_path / "exports"], warehouse=tmp_path / "warehouse", settings=Settings(**EXACT))
    found = answer(tmp_path / "warehouse")
    assert found.sentence.startswith("Do not clean on a calendar: it would buy nothing.")
    assert found.groups[0].planned.why is CalendarWhy.NO_RISE
    given = answer(tmp_path / "warehouse", restored_share=0.9)
    assert given.groups[0].planned.verdict is Calendar.NEVER


def test_what_is_not_given_is_asked_for_and_nothing_is_assumed(record):
    found = interval_of(record, words())
    wanted = {"labour_per_hour", "clean_minutes", "consumables_per_clean", "callout_cost", "downtime_hours", "downtime_per_hour",
              "refund_per_fault", "harm_share"}  # fmt: skip
    # no fault took a new part, so what one costs does not matter
    assert {one.name for one in found.asked_for} == wanted
    (group,) = found.groups
    assert (found.because, group.because, group.planned, group.costs) == (Because.NOT_GIVEN, Because.NOT_GIVEN, None, None)
    assert found.sentence.startswith("Before an interval can be told, give: ")
    assert group.shape.estimate is not None
    without = {name: value for name, value in GIVEN.items() if name != "downtime_per_hour"} | {"downtime_hours": 0.0}
    found = interval_of(record, words(**without))
    assert found.asked_for == []
    assert found.groups[0].costs["fault"] == pytest.approx(2.5 + 6 + 1)


def test_planned_as_dear_as_unplanned_and_costs_of_zero(record):
    dear = weighed(record, callout_cost=0.0, downtime_hours=0.0, refund_per_fault=0.0)
    assert dear.groups[0].planned.why is CalendarWhy.DEAR_CLEAN
    assert "a fault no more than that" in dear.sentence
    nothing = weighed(record, **{name: 0.0 for name in GIVEN})
    assert nothing.groups[0].planned.verdict is Calendar.NEVER
    free = weighed(record, labour_per_hour=0.0, consumables_per_clean=0.0, harm_share=0.0)
    assert free.groups[0].planned.is_edge
    for found in (dear, nothing, free):
        assert_plain(found)


def test_a_share_given_counts_before_the_record(record):
    usual, little, whole = (weighed(record, **more).groups[0] for more in ({}, {"restored_share": 0.1}, {"restored_share": 1.0}))
    assert little.restored.is_given
    assert not usual.restored.is_given
    assert little.planned.saving.estimate < usual.planned.saving.estimate < whole.planned.saving.estimate
    nothing = weighed(record, restored_share=0.0).groups[0]
    assert nothing.planned.verdict is Calendar.NEVER


def test_a_depth_never_used_tells_only_what_it_could_do_at_best(record):
    found = weighed(record, case={"depth": "air"})
    (group,) = found.groups
    assert (group.restored.depth, group.restored.share.because) == ("air", Because.NO_ATTEMPTS)
    assert group.planned.is_best_case
    assert found.sentence.startswith("Too close to call: how much of the age a clean gives back is not known here")
    assert weighed(record, case={"depth": "open"}).groups == weighed(record).groups
    with pytest.raises(SettingError):
        weighed(record, case={"depth": "deep"})


def test_groups_are_told_of_together_by_verdict_and_reason(record):
    one = weighed(record, case={"depth": "air"})
    untold = one.groups[0]
    assert (untold.planned.verdict, untold.planned.why) == (Calendar.TOO_CLOSE, CalendarWhy.RESTORATION_UNTOLD)
    unsure = replace(untold, planned=replace(untold.planned, why=CalendarWhy.UNSURE), sentence="Too close to call: by chance.")
    never = replace(untold, planned=replace(untold.planned, verdict=Calendar.NEVER, why=CalendarWhy.NO_RISE, most_saving=0.01))
    pairs = [untold, untold, unsure, unsure, never, never]
    groups = [replace(each, by={"family": f"{place}"}) for place, each in enumerate(pairs)]
    names, said = zip(*verdict_lines(replace(one, groups=groups)), strict=True)
    assert names == ("0; 1", "2; 3", "4; 5")
    assert said[0].startswith("Too close to call: how much of the age a clean gives back is not known here")
    assert f"up to {share_words(untold.planned.saving.estimate)}" in said[0]
    assert said[1] == "Too close to call: by chance."
    assert said[2].startswith("Do not clean on a calendar: it would buy nothing.")


def test_many_groups_are_named_in_part_and_what_holds_for_all_is_said_once(record):
    one = weighed(record)
    groups = [replace(one.groups[0], by={"family": f"F{place:02d}"}) for place in range(40)]
    ((names, said),) = verdict_lines(replace(one, groups=groups))
    assert names.startswith("F00; F01; ")
    assert names.endswith("; F11 and 28 more")
    assert " ".join(interval_text(replace(one, groups=groups)).split()).count(" ".join(said.split())) == 1


def test_groups_by_family_are_each_alone_and_costs_need_no_second_look(by_hours, record):
    found = answer(by_hours, by=["family"])
    assert [one.by for one in found.groups] == [{"family": "=Nolm"}, {"family": "Velm"}]
    assert found.sentence.startswith(("2 groups: ", "Both groups: "))
    assert sum(one.counts["failures"] for one in found.groups) == weighed(record).groups[0].counts["failures"]
    with warehouse.reading(by_hours) as connection:
        apart = cleaning_record(connection, words(by=["family"]))
    assert interval_of(apart, words(by=["family"], **GIVEN)).groups == found.groups
    assert "'=Nolm," in interval_csv(found)
    assert len(interval_table(found)) == 2
    assert_plain(found)


def test_stock_for_sale_changes_nothing_and_is_counted(by_hours, tmp_path):
    """As many again without readings: half of them in no register, the others registered and sold since."""
    write_fleet(tmp_path / "own")
    write_fleet(tmp_path / "stock", shape=1.0, has_hours=False)
    jobs, register = (pd.read_csv(tmp_path / "stock" / f"{name}.csv") for name in ("jobs", "units"))
    names = {unit: f"stock {unit}" for unit in register["unit_id"]}
    jobs = jobs.assign(unit_id=jobs["unit_id"].map(names), job_id="S" + jobs["job_id"])
    register = register.assign(unit_id=register["unit_id"].map(names))
    is_sold = register.index % 2 == 0
    sales = register.loc[is_sold, ["unit_id"]].assign(sold_on="2025-11-01", price=30.0, currency="EUR", warranty_days=0)
    for name, more in (("jobs", jobs), ("units", register[is_sold])):
        own = pd.read_csv(tmp_path / "own" / f"{name}.csv")
        pd.concat([own, more]).to_csv(tmp_path / "own" / f"{name}.csv", index=False)
    sales.to_csv(tmp_path / "own" / "sales.csv", index=False)
    load([tmp_path / "own"], warehouse=tmp_path / "warehouse", settings=Settings(**EXACT))
    for by in ((), ("family",)):
        alone, mixed = answer(by_hours, by=by), answer(tmp_path / "warehouse", by=by)
        assert mixed.groups == alone.groups
        assert (mixed.clock, mixed.warnings, mixed.sentence) == (alone.clock, alone.warnings, alone.sentence)
    assert (alone.left_out, mixed.left_out) == ({"not_own": 0}, {"not_own": 100})
    assert "Left out: 100 controllers not your own" in interval_text(mixed)
    assert "not your own" not in interval_text(alone)


def test_too_little_to_tell_is_said(tmp_path):
    write_fleet(tmp_path / "exports", units=2)
    load([tmp_path / "exports"], warehouse=tmp_path / "warehouse", settings=Settings(**EXACT))
    found = answer(tmp_path / "warehouse", by=["family"])
    assert {one.because for one in found.groups} <= {Because.TOO_FEW_FAILURES, Because.NO_FAILURES, Because.NO_SPELLS}
    assert found.because is found.groups[0].because
    assert_plain(found)


def test_no_other_columns_filters_or_clocks():
    for more in ({"by": ["site"]}, {"where": {"family": ["Velm"]}}, {"clock": "days"}, {"case": {"mix": "Velm:3"}}):
        with pytest.raises(SettingError):
            asked("cleaning-interval", **{"by": [], "where": {}, "clock": None, "level": None, "settings": Settings(), **more})


def test_a_messy_fleet_is_answered_and_the_json_holds_the_keys_of_the_page(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (_, connection):
        found = ask("cleaning-interval", connection, by=["family"], settings=Settings(**GIVEN))
        both = ask("cleaning-interval", connection, by=["family", "usage_class"], settings=Settings(**GIVEN))
    for one in (found, both):
        assert_plain(one)
    plain, title = found.to_dict(), "`cleaning-interval`"
    group = next(one for one in plain["groups"] if one["planned"])
    own = {"question", "clock", "by", "log_start", "log_end", "level", "settings", "sentence", "warnings", "because"}
    # in the page `curve` is a key of `planned`
    assert set(plain) | set(group) | {"curve"} == keys(title) | own
    assert set(plain) == {one.name for one in fields(CleaningInterval)}
    assert set(group) == {one.name for one in fields(IntervalGroup)}
    for name, of in {
        "restored": Restored,
        "harm": Harm,
        "use": Use,
        "slot": Slot,
        "planned": Planned,
        "curve": CostPoint,
    }.items():
        assert {one.name for one in fields(of)} <= inside(title, name) | {"days"}, name
    for name in ("counts", "put_right", "costs"):
        assert set(group[name]) <= inside(title, name), name
    assert all(one.value in section(title) for one in (*Calendar, *CalendarWhy))


def assert_plain(found: CleaningInterval) -> None:
    """Nothing that a person reads holds a computer word, and the JSON no number that is none."""
    said = [interval_text(found), found.sentence, *found.warnings, *(group.sentence for group in found.groups)]
    assert not re.search(r"\b(nan|None|inf|NaN|null)\b", "\n".join(said)), said
    json.dumps(found.to_dict(), allow_nan=False)
