"""The figures of the coming weeks and of the shelf draw what the answer says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipelines.answers.next_failures import next_failures_of
from pipelines.answers.question import asked
from pipelines.answers.shelf import shelf_of
from pipelines.charts.outlook import forecast_figure, shelf_figure, shown
from pipelines.charts.theme import PRINT
from pipelines.settings import Settings
from tests.calibration.forecasts import made_fleet


def question(name: str, **settings):
    return asked(name, by=(), where={}, clock=None, level=None, settings=Settings(**settings))


@pytest.fixture(scope="module")
def made():
    record = made_fleet(np.random.default_rng(4), 300)[0]
    return replace(record, sticks=record.sticks.assign(sensor_type="<b>hall</b>"))


def test_past_quarters_stand_beside_the_coming_one(made):
    answer = next_failures_of(made, None, question("next-failures"))
    figure = forecast_figure(answer, palette=PRINT)
    expected, observed, coming = figure.data
    assert list(observed.y) == [one.observed for one in answer.quarters]
    assert list(expected.y) == [one.expected for one in answer.quarters]
    faults = answer.groups[0].faults
    assert coming.y[0] == faults.estimate
    assert coming.y[0] + coming.error_y.array[0] == pytest.approx(faults.high)
    assert coming.y[0] - coming.error_y.arrayminus[0] == pytest.approx(faults.low)
    assert coming.x[0] > observed.x[-1]


def test_modules_needed_kept_and_at_hand_stand_in_one_row(made):
    answer = shelf_of(made, question("shelf", lead_time_days=60))
    (row,) = shown(answer)
    needed, keep = shelf_figure(answer).data
    assert needed.x == (row.demand.estimate,)
    assert keep.x == (float(row.keep),)
    assert "<b>" not in needed.customdata[0]
    assert not shown(shelf_of(made, question("shelf")))
