"""Past lots by the day of purchase: what was forecast of each as a grey bar, what came as a dot in colour."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from pipelines.answers.past_lots_record import PastLot, PastLots
from pipelines.answers.past_lots_text import standing_out
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import level_words, limits_words

_HEIGHT = 380


def past_lots_figure(answer: PastLots, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw every lot that has a forecast; a result outside the forecast is a filled dot, one inside it an open one."""
    lots = shown(answer)
    figure = framed(palette, height=_HEIGHT)
    unit = answer.currency or ""
    told = [one.value_forecast for one in lots]
    figure.add_scatter(
        x=[one.bought_on for one in lots], y=[one.estimate for one in told], mode="markers", hoverinfo="skip",
        name=f"forecast, {level_words(answer.forecast_level)}",
        marker={"symbol": "line-ew", "size": 9, "line": {"width": 2, "color": palette.grey}},
        error_y={
            "type": "data", "symmetric": False, "color": palette.grey, "thickness": 2, "width": 0,
            "array": [one.high - one.estimate for one in told], "arrayminus": [one.estimate - one.low for one in told],
        },
    )  # fmt: skip
    for is_within, name, symbol in ((True, "came, inside", "circle-open"), (False, "came, outside", "circle")):
        some = [one for one in lots if one.is_within is is_within]
        figure.add_scatter(
            x=[one.bought_on for one in some], y=[one.value for one in some], mode="markers", name=name,
            marker={"symbol": symbol, "size": 9, "color": palette.line(0), "line": {"width": 2, "color": palette.line(0)}},
            customdata=[_said(one, unit) for one in some], hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    figure.update_xaxes(type="date", title="bought on", showgrid=False, zeroline=False)
    figure.update_yaxes(
        title=f"worth before its price{f', {escaped(unit)}' if unit else ''}", tickformat=",.0f", nticks=6, zeroline=True,
        zerolinecolor=palette.grey, zerolinewidth=1,
    )  # fmt: skip
    return figure


def shown(answer: PastLots) -> Sequence[PastLot]:
    """Return the lots that the figure draws: those with a forecast."""
    return [one for one in answer.lots if one.value_forecast is not None]


def _said(one: PastLot, unit: str) -> str:
    told = one.value_forecast
    span = limits_words(told.low, told.high, lambda value: money_words(value, unit))
    lines = [
        f"{one.lot_id}, {sum(one.mix.values()):,} units", f"came: {money_words(one.value, unit)}",
        f"forecast: {money_words(told.estimate, unit)} ({span})", standing_out(one),
    ]  # fmt: skip
    return "<br>".join(escaped(line) for line in lines if line)
