"""The shelf: stocks that last as often as they should, what is asked for, what is short, and the page of the JSON."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import poisson

from pipelines.answers import ask
from pipelines.answers.fleet_record import FleetRecord
from pipelines.answers.question import asked
from pipelines.answers.shelf import MODULE, SPARE, shelf_of
from pipelines.answers.shelf_record import Shelf, ShelfRow
from pipelines.answers.shelf_text import shelf_csv, shelf_text
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.test_contract import inside, keys
from tests.calibration.forecasts import made_fleet
from tests.pipeline.made_fleet import loaded_fleet

USE = ["sensor_type", "quarter", "fitted_count", "own_fault_count"]
STOCK = ["sensor_type", "received_count", "fitted_count", "unrecorded_count"]


def fleet(seed: int = 4, failures: int = 600) -> tuple[FleetRecord, pd.DataFrame]:
    record, came = made_fleet(np.random.default_rng(seed), failures)
    return replace(record, sticks=record.sticks.assign(sensor_type="hall"), turnaround_days=4.0, turnaround_jobs=80), came


@pytest.fixture(scope="module")
def made() -> FleetRecord:
    return fleet()[0]


def shelf(record: FleetRecord, **settings) -> Shelf:
    chosen = Settings(**{"lead_time_days": 91, **settings})
    return shelf_of(record, asked("shelf", by=(), where={}, clock=None, level=None, settings=chosen))


def module(answer: Shelf, part: str = "hall") -> ShelfRow:
    return next(row for row in answer.rows if (row.kind, row.part) == (MODULE, part))


def test_what_is_kept_lasts_as_often_as_it_should():
    lasted = []
    for seed in range(30):
        record, came = fleet(seed, 150)
        lasted.append(came["is_part"].sum() <= module(shelf(record, fill_chance=0.9)).keep)
    assert 0.8 < np.mean(lasted) <= 1.0


def test_a_known_demand_would_need_less(made):
    row = module(shelf(made))
    assert row.keep_if_known == poisson.ppf(0.95, row.demand.estimate)
    assert row.keep > row.keep_if_known
    assert module(shelf(made, fill_chance=0.99)).keep > row.keep
    assert module(shelf(made, lead_time_days=30)).keep < row.keep


def test_parts_for_other_work_are_added_at_their_pace(made):
    use = pd.DataFrame([("hall", one, 30, 5) for one in range(4)] + [("tmr", one, 8, 0) for one in range(4)], columns=USE)
    more = shelf(replace(made, part_use=use))
    assert module(more).demand.estimate == pytest.approx(module(shelf(made)).demand.estimate + 25, abs=2.5)
    assert module(more, "tmr").demand.estimate == pytest.approx(8, abs=1)


@pytest.mark.parametrize(("received", "fitted", "hand"), [(500, 100, 400), (100, 120, 0), (None, 3, None)])
def test_stock_at_hand_is_what_came_less_what_was_fitted(made, received, fitted, hand):
    stock = pd.DataFrame([("hall", received, fitted, 7)], columns=STOCK).astype({"received_count": "Int64"})
    row = module(answer := shelf(replace(made, part_stock=stock)))
    assert (row.at_hand, row.unrecorded) == (hand, 7)
    assert row.is_short is (None if hand is None else hand < row.keep)
    assert ("already fewer of: hall modules" in answer.sentence) is bool(row.is_short)
    assert any("7 fitted parts" in one for one in answer.warnings)


def test_spare_controllers_are_those_away_at_once(made):
    short, long = (shelf(made, turnaround_days=days) for days in (2.0, 60.0))
    kept = [sum(row.keep for row in answer.rows if row.kind == SPARE) for answer in (short, long)]
    assert kept[1] > 3 * kept[0]
    expected = [sum(row.demand.estimate for row in answer.rows if row.kind == SPARE) for answer in (short, long)]
    assert expected[1] == pytest.approx(30 * expected[0], rel=0.25)
    half = shelf(made, lead_time_days=None, turnaround_days=60.0)
    assert [row for row in half.rows if row.kind == SPARE] == [row for row in long.rows if row.kind == SPARE]
    assert (short.turnaround_origin, shelf(made).turnaround_origin, shelf(made).turnaround_days) == ("setting", "record", 4.0)


def test_lead_time_and_time_away_are_asked_for_and_never_assumed(made):
    blank = shelf(replace(made, turnaround_days=None), lead_time_days=None)
    assert [one.name for one in blank.asked_for] == ["lead_time_days", "turnaround_days"]
    assert blank.because is Because.NOT_GIVEN
    assert all(row.because is Because.NOT_GIVEN and row.keep is None for row in blank.rows)
    assert "needs the lead time" in blank.sentence
    half = shelf(made, lead_time_days=None)
    assert (half.because, [one.name for one in half.asked_for]) == (None, ["lead_time_days"])
    assert "spare controllers" in half.sentence


def test_nobody_in_service_and_no_failures_are_refused_in_words(made):
    nobody = shelf(replace(made, sticks=made.sticks.head(0)))
    assert nobody.because is Because.NOTHING_IN_SERVICE
    none = shelf(replace(made, watched=made.watched.assign(is_failure=False, upper_h=np.inf, upper_days=np.inf)))
    assert none.because is Because.NO_FAILURES
    for answer in (nobody, none, shelf(made)):
        assert not re.search(r"\b(nan|None|inf|NaN|null)\b", shelf_text(answer))
        json.dumps(answer.to_dict(), allow_nan=False)
    assert "Nothing to say" in nobody.sentence


def test_csv_runs_no_formula(made):
    assert "'=1+1" in shelf_csv(shelf(replace(made, sticks=made.sticks.assign(sensor_type="=1+1"))))


def test_the_json_holds_the_keys_of_the_page_and_no_others(tmp_path):
    with loaded_fleet(1500, 3, tmp_path, easy=False) as (_, connection):
        answer = ask("shelf", connection, settings=Settings(lead_time_days=30))
    plain, title = json.loads(json.dumps(answer.to_dict(), allow_nan=False)), "`shelf`"
    assert set(plain) | set(plain["rows"][0]) == keys(title)
    assert set(plain) == {one.name for one in fields(Shelf)}
    assert set(plain["rows"][0]) == {one.name for one in fields(ShelfRow)}
    assert inside(title, "kind") >= {MODULE, SPARE}
    assert any(row.at_hand is not None for row in answer.rows)
