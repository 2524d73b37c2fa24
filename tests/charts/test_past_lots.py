"""The figure of past lots: a bar of the forecast and a dot of the result for each, in the order of purchase."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipelines.answers.lot_replay import replay
from pipelines.answers.past_lots import of_replay
from pipelines.answers.question import asked
from pipelines.charts.past_lots import past_lots_figure, shown
from pipelines.charts.theme import PRINT
from pipelines.settings import Settings
from tests.answers.made_trade import COSTS, made_trade, standing

GIVEN = Settings(**COSTS)
ANSWER = of_replay(
    replay(standing(made_trade(8, lots=16)), GIVEN),
    asked("past-lots", by=[], where={}, clock=None, level=None, settings=GIVEN),
)


def test_every_forecast_has_its_interval_and_every_result_a_dot():
    forecast, inside, outside = past_lots_figure(ANSWER).data
    lots = shown(ANSWER)
    assert len(lots) > 5
    assert list(forecast.x) == [one.bought_on for one in lots]
    for place, one in enumerate(lots):
        assert forecast.y[place] + forecast.error_y.array[place] == pytest.approx(one.value_forecast.high)
        assert forecast.y[place] - forecast.error_y.arrayminus[place] == pytest.approx(one.value_forecast.low)
    assert len(inside.x) == ANSWER.held.k
    assert len(inside.x) + len(outside.x) == ANSWER.held.n
    assert (inside.marker.symbol, outside.marker.symbol) == ("circle-open", "circle")


def test_a_hover_says_the_lot_and_text_from_the_log_is_harmless():
    first = next(place for place, one in enumerate(ANSWER.lots) if one.is_within)
    lots = [*ANSWER.lots]
    lots[first] = replace(lots[first], lot_id="<b>X</b>")
    inside = past_lots_figure(replace(ANSWER, lots=lots, currency="EUR"), palette=PRINT).data[1]
    assert inside.customdata[0].startswith("&lt;b&gt;X&lt;/b&gt;, ")
    assert "EUR" in inside.customdata[0]


def test_without_forecasts_there_is_nothing_to_draw():
    assert not shown(replace(ANSWER, lots=[]))
    assert len(past_lots_figure(replace(ANSWER, lots=[])).data) == 3
