"""The early alarm from a loaded log: a known bad batch, nothing known ahead of its day, refusals, and the contract's keys."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import fields, replace

import pytest

from example_data.fleet import make
from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.batch_alarm_record import AtAlarm, BatchAlarm, Look, Replay, WatchedBatch
from pipelines.answers.batch_alarm_text import batch_alarm_csv, batch_alarm_sheets, batch_alarm_text
from pipelines.errors import SettingError
from pipelines.load import load
from pipelines.settings import Settings
from pipelines.vocabulary import AlarmLevel, Because
from tests.answers.logs import EXACT, Log, register
from tests.answers.test_contract import keys
from tests.facts.test_batch_watch import JOBS, UNITS

BAD = "UC-09"
#: No lag, so that a log that ends on a day tells all that was found by then.
NOW = Settings(quiet_lag_days=0)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Load a fleet of 12,000 jobs in which the batch BAD fails three times as often as the others."""
    from example_data.plain import write_plain

    place = tmp_path_factory.mktemp("batches")
    (place / "exports").mkdir()
    write_plain(make(12_000, 7), place / "exports")
    load([place / "exports"], warehouse=place / "warehouse", settings=NOW)
    return place / "warehouse"


def answered(folder, settings: Settings = NOW, **words) -> BatchAlarm:
    with warehouse.reading(folder) as connection:
        return ask("batch-alarm", connection, settings=settings, **words)


@pytest.fixture(scope="module")
def answer(folder):
    return answered(folder)


def test_the_bad_batch_raises_the_alarm_and_hardly_any_other(answer):
    assert answer.shown == answer.batches[0].batch == BAD
    first, *others = answer.batches
    at = first.watch
    assert first.level in (AlarmLevel.WATCH, AlarmLevel.STOP)
    assert first.sentence.startswith(f"Batch {BAD} would have raised the alarm on {at.on}, {at.days} days after its first module")
    assert answer.sentence.startswith(first.sentence)
    assert sum(one.watch is not None for one in others) <= 2
    assert first.watch.fitted + first.watch.fitted_since == first.fitted
    assert first.failures <= first.found
    assert first.watch.on == next(one.on for one in answer.looks if one.evidence >= answer.watch_limit)
    assert (answer.watch_limit, answer.stop_limit) == (pytest.approx(20), pytest.approx(100))
    assert answer.limit_of_all == pytest.approx(20 * answer.watched_batches)


def test_a_log_that_ends_on_the_day_of_the_alarm_raises_it_that_day_and_not_a_look_before(folder, answer):
    """The replay knows nothing ahead: the log cut at a day says of that day what the whole log says of it."""
    day, look = dt.date.fromisoformat(answer.batches[0].watch.on), dt.timedelta(days=answer.look_days)
    for on, is_raised in ((day, True), (day - look, False), (day - 9 * look, False), (day + 20 * look, True)):
        then = answered(folder, replace(NOW, log_end=on), case={"batch": BAD})
        known = next(one for one in answer.looks if one.on == on.isoformat())
        numbers = ("evidence", "failures", "expected", "fitted")
        assert [getattr(then.looks[-1], one) for one in numbers] == pytest.approx(
            [getattr(known, one) for one in numbers], rel=1e-9
        )
        told = next(one for one in then.batches if one.batch == BAD)
        assert (told.watch is not None) is is_raised


def test_watched_as_asked_it_is_the_same_whether_others_stand_together_or_not(answer):
    first = answer.batches[0]
    asked = next(one for one in answer.replays if (one.against, one.tolerance) == ("period", 1.2))
    assert [asked.watch_on, asked.stop_on] == [one and one.on for one in (first.watch, first.stop)]
    assert asked.highest_evidence == pytest.approx(first.highest_evidence)
    assert (asked.failures, asked.expected) == (first.failures, pytest.approx(first.expected))
    by_tolerance = [one.highest_evidence for one in answer.replays if one.against == "period"]
    assert by_tolerance == sorted(by_tolerance, reverse=True)
    assert {one.against for one in answer.replays} == {"period", "any", "same_time", "other_suppliers"}


def test_what_may_raise_an_alarm_is_the_users_to_say(folder, answer):
    strict = answered(folder, replace(NOW, batch_tolerance=4.0, false_alarm=0.001, false_stop=0.5), is_brief=True)
    assert all(one.watch is None for one in strict.batches)
    assert (strict.stop_limit, strict.replays) == (strict.watch_limit, [])
    assert strict.sentence.startswith("No alarm over any of")
    quiet = answered(folder, case={"batch": answer.batches[-1].batch.lower()}, is_brief=True)
    assert quiet.shown == answer.batches[-1].batch
    assert quiet.sentence == answer.batches[-1].sentence
    with pytest.raises(SettingError, match="no batch 'none'"):
        answered(folder, case={"batch": "none"})


def test_a_batch_with_nothing_like_it_is_said_to_be_unwatched(tmp_path):
    """B1 and B2 stand beside each other at one site; B3 went to another, alone; B9 is only on a module that came in."""
    units = UNITS + "A3 Nolm S 2025-01-01 new south heavy\n"
    more = "J8 A3 2025-01-15 S Nolm replace_module pass B3 - fault_report fault_confirmed\n"
    log = Log(tmp_path, jobs=JOBS + more, units=units)
    with warehouse.reading(log.path) as connection:
        told = ask("batch-alarm", connection, settings=EXACT)
    levels = {one.batch: (one.level, one.because) for one in told.batches}
    assert levels["B1"] == (AlarmLevel.TOO_EARLY, Because.TOO_FEW_FAILURES)
    assert levels["B3"] == (AlarmLevel.UNWATCHED, Because.NO_COMPARISON)
    assert "cannot be watched" in next(one.sentence for one in told.batches if one.batch == "B3")
    assert told.watched_batches == 2
    assert any(warning.startswith("B9: on record only") for warning in told.warnings)


@pytest.mark.parametrize(
    ("jobs", "because"),
    [
        (JOBS.replace("B2", "B1"), Because.ONE_BATCH),
        (JOBS.replace("pass B1", "pass -").replace("pass B2", "pass -"), Because.NOT_RECORDED),
    ],
)
def test_without_two_batches_there_is_no_watch(tmp_path, jobs, because):
    log = Log(tmp_path, jobs=jobs, units=UNITS)
    with warehouse.reading(log.path) as connection:
        told = ask("batch-alarm", connection, settings=EXACT)
    assert (told.because, told.batches, told.looks) == (because, [], [])
    assert told.sentence in " ".join(batch_alarm_text(told).split())
    assert batch_alarm_csv(told).strip() == ""


def test_a_log_in_which_no_module_was_fitted_says_so(tmp_path):
    jobs = "unit_id received_on stick family action outcome\nA1 2025-02-01 S Nolm test_only pass"
    log = Log(tmp_path, units=register("A1"), jobs=jobs)
    with warehouse.reading(log.path) as connection:
        assert ask("batch-alarm", connection, settings=EXACT).because is Because.NOT_RECORDED


def test_the_json_has_the_keys_of_the_contract_and_text_and_files_say_the_same(answer):
    told = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
    records = (BatchAlarm, WatchedBatch, AtAlarm, Look, Replay)
    inner = {name for record in (AtAlarm, Look, Replay) for name in (field.name for field in fields(record))}
    named = keys("`batch-alarm`")
    assert {name for record in (BatchAlarm, WatchedBatch) for name in (field.name for field in fields(record))} == named
    assert named | inner == {field.name for record in records for field in fields(record)}
    assert set(told) == {field.name for field in fields(BatchAlarm)}
    text = batch_alarm_text(answer)
    assert BAD in text
    assert "watched in other ways" in text
    sheets = batch_alarm_sheets(answer)
    assert list(sheets) == ["batches", "looks", "other ways", "asked"]
    assert len(sheets["batches"]) == len(answer.batches) == len(batch_alarm_csv(answer).splitlines()) - 1
