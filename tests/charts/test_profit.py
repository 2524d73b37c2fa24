"""The figure of a lot's profit shows what loses money apart, and says both shares in words."""

import numpy as np
import pytest

from pipelines.charts.profit import profit_figure
from pipelines.estimates.bins import Bin, binned

DRAWS = np.random.default_rng(5).normal(130, 100, 20_000)


def figure_of(draws=DRAWS, **more):
    given = {"loss_chance": float((draws < 0).mean()), "expected": float(draws.mean()), "unit": "EUR"} | more
    return profit_figure(binned(np.quantile(draws, np.arange(1, 100) / 100)), **given)


def test_the_bars_below_0_add_up_to_the_chance_of_a_loss():
    loss, gain, *_ = figure_of().data
    assert (loss.name, gain.name) == ("loses money", "earns money")
    assert sum(loss.y) == pytest.approx((DRAWS < 0).mean(), abs=0.004)
    assert sum(loss.y) + sum(gain.y) == pytest.approx(1)
    assert max(loss.x) < 0 < min(gain.x)


def test_both_sides_are_said_in_words_and_the_loss_has_the_full_accent():
    figure = figure_of(loss_chance=0.1)
    assert [one.text for one in figure.layout.annotations] == ["← loses money<br>10\u00a0%", "earns money →<br>90\u00a0%"]
    assert len(figure.data[0].marker.color) == 7 < len(figure.data[1].marker.color)


def test_the_dotted_line_stands_at_the_expected_profit():
    dotted = next(one for one in figure_of(expected=131.5).data if one.type == "scatter" and one.line.dash == "dot")
    assert list(dotted.x) == [131.5, 131.5]


@pytest.mark.parametrize("bins", [[Bin(40, 40, 1.0)], [Bin(10, 20, 0.5), Bin(20, 30, 0.5)], [Bin(-20, -10, 1.0)]])
def test_0_is_on_the_axis_wherever_the_bins_are(bins):
    low, high = profit_figure(bins, loss_chance=0.0, expected=1.0, unit="").layout.xaxis.range
    assert low < 0 < high


def test_the_words_on_both_sides_of_0_have_room_on_a_phone():
    low, high = profit_figure([Bin(80, 400, 1.0)], loss_chance=0.0, expected=1.0, unit="").layout.xaxis.range
    assert -low / (high - low) > 0.25


def test_a_currency_from_the_log_is_shown_as_it_is():
    assert "<b>" not in figure_of(unit="<b>").to_json().replace("\\u003c", "<")
