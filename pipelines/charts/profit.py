"""What a lot may earn at one price: a histogram, what loses money in full colour, the rest pale, both said in words."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import FAINT, SCREEN, Palette
from pipelines.estimates.bins import Bin
from pipelines.wording.verdict import share_words

_HEIGHT = 300


def profit_figure(
    bins: Sequence[Bin], *, loss_chance: float, expected: float, unit: str, palette: Palette = SCREEN
) -> go.Figure:  # fmt: skip
    """Draw bins of the profit of a lot with an edge at 0. unit: the currency, "" where none is known."""
    figure = framed(palette, height=_HEIGHT)
    behind = f" {unit}" if unit else ""
    for is_loss, name, color in ((True, "loses money", palette.line(0)), (False, "earns money", palette.line(0) + FAINT)):
        some = [one for one in bins if (one.high <= 0 and one.low < 0) is is_loss]
        figure.add_bar(
            x=[(one.low + one.high) / 2 for one in some], y=[one.share for one in some], name=name, width=_width(bins),
            marker={"color": color, "line": {"width": 0}},
            customdata=[escaped(f"{one.low:,.0f} to {one.high:,.0f}{behind}: {share_words(one.share)}") for one in some],
            hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    top = max((one.share for one in bins), default=1.0)
    for at, dash, width in ((0.0, "solid", 1), (expected, "dot", 2)):
        figure.add_scatter(
            x=[at, at], y=[0, 1.06 * top], mode="lines", hoverinfo="skip", name="",
            line={"color": palette.grey, "width": width, "dash": dash},
        )  # fmt: skip
    for words, anchor, shift in (
        (f"← loses money<br>{share_words(loss_chance)}", "right", -6),
        (f"earns money →<br>{share_words(1 - loss_chance)}", "left", 6),
    ):
        figure.add_annotation(
            text=words, x=0, xref="x", xanchor=anchor, xshift=shift, align=anchor, y=1, yref="paper", yanchor="bottom",
            showarrow=False, font_size=12,
        )  # fmt: skip
    figure.update_layout(showlegend=False, bargap=0, barmode="overlay", margin_t=44)
    figure.update_yaxes(visible=False, range=[0, 1.08 * top])
    figure.update_xaxes(
        zeroline=False, showgrid=False, tickformat=",.0f", nticks=7, range=_range(bins),
        title=f"profit of the whole lot{f', {escaped(unit)}' if unit else ''} (dotted: expected)",
    )  # fmt: skip
    return figure


def _width(bins: Sequence[Bin]) -> float:
    return (bins[0].high - bins[0].low) * 0.94 or 1.0


def _range(bins: Sequence[Bin]) -> list[float]:
    """Return the axis: all bins, with room for the words on both sides of 0."""
    low, high = min(bins[0].low, 0.0), max(bins[-1].high, 0.0)
    room = (high - low or 1.0) * 0.35
    return [min(low, -room), max(high, room)]
