"""What will fail next: chances that come true, refusals in words, the tables, and the page of the JSON."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import fields, replace

import numpy as np
import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.fleet_record import FleetRecord, fleet_record
from pipelines.answers.next_failures import next_failures_of
from pipelines.answers.next_failures_record import Ahead, Band, NextFailures, PastQuarter, StickAhead, Tried, Week
from pipelines.answers.next_failures_text import ahead_table, next_failures_csv, next_failures_text, stick_table
from pipelines.answers.outlook import outlook
from pipelines.answers.question import asked
from pipelines.errors import SettingError
from pipelines.estimates.coming_faults import fault_chances
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.logs import Log, register
from tests.answers.test_contract import inside, keys
from tests.calibration.forecasts import made_fleet
from tests.pipeline.made_fleet import loaded_fleet

COMPUTER_WORDS = re.compile(r"\b(nan|None|inf|NaN|NaT|null)\b")


def question(**words):
    return asked("next-failures", by=(), where={}, clock=None, level=None, settings=Settings(), **words)


@pytest.fixture(scope="module")
def made() -> FleetRecord:
    return made_fleet(np.random.default_rng(4), 1000)[0]


@pytest.fixture(scope="module")
def told(made) -> NextFailures:
    return next_failures_of(made, None, question())


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """Return the answer and its record of a small messy fleet."""
    with loaded_fleet(3000, 3, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        return ask("next-failures", connection), fleet_record(connection, Settings())


def test_chances_come_true_in_a_fleet_of_known_truth():
    given, came = [], []
    for seed in range(6):
        record, faults = made_fleet(np.random.default_rng(seed), 1500)
        found = outlook(record, min_failures=6)
        given.append([one.estimate for one in fault_chances(found.sticks, found.laws, found.factor, days=91)])
        came.append(found.frame["stick"].isin(faults["stick"].astype(str)).to_numpy())
    chance, failed = np.concatenate(given), np.concatenate(came)
    assert failed.mean() == pytest.approx(chance.mean(), rel=0.06)
    order = np.array_split(np.argsort(chance), 5)
    for part in order:
        error = np.sqrt(chance[part].mean() / len(part))
        assert failed[part].mean() == pytest.approx(chance[part].mean(), abs=4 * error)
    assert failed[order[-1]].mean() > 3 * failed[order[0]].mean()


def test_sticks_stand_in_the_order_of_their_chance_and_all_are_listed(told, made):
    assert [one.rank for one in told.sticks] == list(range(1, len(made.sticks) + 1))
    chances = [one.chance.estimate for one in told.sticks]
    assert chances == sorted(chances, reverse=True)
    assert all(one.chance.low <= one.chance.estimate <= one.chance.high for one in told.sticks)
    assert told.soon.estimate == pytest.approx(sum(chances), rel=0.1)


def test_parts_add_up_to_the_whole(told):
    whole, *parts = told.groups
    for columns in (["site"], ["family"], ["site", "family"]):
        mine = [one for one in parts if list(one.by) == columns]
        assert sum(one.sticks for one in mine) == whole.sticks
        for name in ("faults", "jobs", "modules"):
            assert sum(getattr(one, name).estimate for one in mine) == pytest.approx(getattr(whole, name).estimate)
    assert sum(one.faults.estimate for one in told.weeks) == pytest.approx(whole.faults.estimate)
    assert len(told.weeks) == 13


def test_the_order_of_rows_does_not_matter(made, told):
    mixed = replace(made, sticks=made.sticks.sample(frac=1, random_state=1), watched=made.watched.sample(frac=1, random_state=2))
    again = next_failures_of(mixed, None, question())
    assert again.groups[0].faults.estimate == pytest.approx(told.groups[0].faults.estimate, rel=0.05)
    before = {(one.unit_id, one.stick): one.chance.estimate for one in told.sticks}
    after = {(one.unit_id, one.stick): one.chance.estimate for one in again.sticks}
    assert np.corrcoef(list(before.values()), [after[key] for key in before])[0, 1] > 0.99


def test_history_counts_a_controller_with_more_faults_is_likelier_to_fail(made):
    unit = made.sticks["unit_id"].iloc[0]
    watched = made.watched[made.watched["unit"] != unit]
    mine = made.watched[made.watched["unit"] == unit]
    plain = _chance(made, unit)
    often = replace(made, watched=watched._append([mine.assign(is_failure=True, upper_h=mine["lower_h"])] * 6, ignore_index=True))
    assert _chance(often, unit) > 1.2 * plain


def _chance(record: FleetRecord, unit: str) -> float:
    return next(one.chance.estimate for one in next_failures_of(record, None, question()).sticks if one.unit_id == unit)


def test_large_fleets_have_fewer_futures_and_the_largest_none(made, monkeypatch):
    monkeypatch.setattr("pipelines.answers.outlook.CELLS", 200 * len(made.sticks))
    assert outlook(made, min_failures=6).draws == 200
    monkeypatch.setattr("pipelines.answers.outlook.CELLS", 99 * len(made.sticks))
    assert next_failures_of(made, None, question()).because is Because.TOO_LARGE


def test_nothing_in_service_and_no_failures_are_refused_in_words(made):
    nobody = next_failures_of(replace(made, sticks=made.sticks.head(0)), None, question())
    assert nobody.because is Because.NOTHING_IN_SERVICE
    nothing = replace(made, watched=made.watched.assign(is_failure=False, upper_h=np.inf, upper_days=np.inf))
    none = next_failures_of(nothing, None, question())
    assert none.because is Because.NO_FAILURES
    for answer in (nobody, none):
        assert answer.sentence.startswith("Nothing to say")
        assert (answer.sticks, answer.groups, answer.weeks) == ([], [], [])
        assert not COMPUTER_WORDS.search(next_failures_text(answer))
        json.dumps(answer.to_dict(), allow_nan=False)
        assert next_failures_csv(answer).strip() == ""


def test_sticks_without_hours_are_judged_in_days_and_said(made):
    few = made.sticks.assign(hours_per_day=made.sticks["hours_per_day"].where(made.sticks.index > 4))
    answer = next_failures_of(replace(made, sticks=few), None, question())
    assert answer.counts["sticks"] - answer.counts["by_hours"] == 5
    assert "5 of" in answer.warnings[0]
    whole = next_failures_of(replace(made, is_hours=False), None, question())
    assert whole.counts["by_hours"] == 0
    assert "worked out in days" in whole.warnings[0]
    assert all(one.hours_per_week is None for one in whole.sticks)


def test_no_repair_on_record_tells_no_modules(made):
    answer = next_failures_of(replace(made, repairs=made.repairs.head(0)), None, question())
    assert answer.groups[0].modules.because is Because.NO_FAILURES
    assert answer.groups[0].faults.estimate > 0
    assert any("nothing tells how many need a new module" in one for one in answer.warnings)
    assert not COMPUTER_WORDS.search(next_failures_text(answer))


def test_a_short_log_says_that_quarters_cannot_be_compared(made):
    young = made.watched[made.watched["entered_on"] > -200]
    answer = next_failures_of(replace(made, watched=young), None, question())
    assert answer.quarter_sd is None
    assert any("assume that the coming quarter is like the past" in one for one in answer.warnings)


def test_one_stick_one_site_and_missing_names(made):
    one = replace(made, sticks=made.sticks.head(1).assign(site=None))
    answer = next_failures_of(one, None, question())
    assert len(answer.sticks) == 1
    assert {"site": None} in [group.by for group in answer.groups]
    assert not COMPUTER_WORDS.search(next_failures_text(answer))


def test_a_log_of_nobody_and_a_log_of_a_week(tmp_path):
    head = "job_id unit_id stick family received_on action outcome finding\nJ1 A S Nolm 2025-01-02 test_only pass no_fault_found"
    log = Log(tmp_path, jobs=head, units=register("A", "B"))
    with warehouse.reading(log.path) as connection:
        answer = ask("next-failures", connection)
    assert answer.because is Because.NO_SPELLS  # the quiet lag leaves nothing
    assert answer.tried is None


def test_the_answer_is_tried_on_the_last_13_weeks(log):
    answer, _ = log
    tried = answer.tried
    assert dt.date.fromisoformat(tried.asked_on) == dt.date.fromisoformat(answer.log_end) - dt.timedelta(days=91)
    assert sum(one.n for one in tried.bands) == tried.sticks
    assert sum(one.k for one in tried.bands) == tried.came
    assert tried.expected == pytest.approx(tried.came, rel=0.5)
    assert "Asked on" in next_failures_text(answer)


def test_the_tables_have_every_stick_and_group_and_run_no_formula(log):
    answer, record = log
    assert len(stick_table(answer)) == len(record.sticks)
    assert len(ahead_table(answer)) == len(answer.groups)
    hostile = replace(answer, sticks=[replace(answer.sticks[0], unit_id="=1+1")])
    assert "'=1+1" in next_failures_csv(hostile)


def test_the_json_holds_the_keys_of_the_page_and_no_others(log):
    plain, title = json.loads(json.dumps(log[0].to_dict(), allow_nan=False)), "`next-failures`"
    stick = plain["sticks"][0]
    assert set(plain) | set(stick) == keys(title)
    assert set(plain) == {one.name for one in fields(NextFailures)}
    for record, found, key in (
        (StickAhead, stick, None), (Ahead, plain["groups"][0], "groups"), (Week, plain["weeks"][0], "weeks"),
        (PastQuarter, plain["quarters"][0], "quarters"), (Tried, plain["tried"], "tried"),
    ):  # fmt: skip
        assert set(found) == {one.name for one in fields(record)}
        assert key is None or set(found) <= inside(title, key)
    assert set(plain["tried"]["bands"][0]) == {one.name for one in fields(Band)} <= inside(title, "tried")


def test_words_that_it_does_not_take_are_refused():
    for words in ({"where": {"family": ["Nolm"]}}, {"clock": "days"}, {"by": ["family"]}, {"case": {"mix": "Nolm:3"}}):
        with pytest.raises(SettingError):
            asked("next-failures", **{"by": [], "where": {}, "clock": None, "level": None, "settings": Settings(), **words})
    assert question().level == 0.9
