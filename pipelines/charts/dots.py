"""Rows of dots with their intervals, the first row on top: shares, pooled lives, ratios, what a clean gives back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import plotly.graph_objects as go

from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import Palette

#: More rows than this no longer fit on a screen.
MOST_ROWS = 16
_ROW, _LINE, _AROUND = 46, 16, 110


@dataclass(frozen=True)
class Dot:
    """One value in a row; a limit that is not known is not drawn. said: what the hover says, not yet escaped."""

    row: int
    value: float
    low: float | None
    high: float | None
    said: tuple[str, ...]


def dot_figure(names: Sequence[str], palette: Palette, *, row_height: int = _ROW) -> go.Figure:
    """Return the figure with a row for each name (as `row_name` gives them), `row_height` pixels or more each."""
    lines = max((name.count("<br>") + 1 for name in names), default=1)
    figure = framed(palette, height=_AROUND + max(row_height, _LINE * lines + 8) * max(len(names), 1))
    figure.update_yaxes(
        range=[len(names) - 0.5, -0.5], tickvals=list(range(len(names))), zeroline=False, showgrid=False,
        ticktext=list(names),
    )  # fmt: skip
    return figure


def row_name(name: str, *more: str, count: int | None = None) -> str:
    """Return a name in lines short enough for a phone, escaped; behind it its count, below it what more there is to say."""
    lines = wrap(name, 16, max_lines=3, placeholder=" …") or [" "]
    behind = "" if count is None else f" ({count:,})"
    return "<br>".join(escaped(line) for line in (*lines[:-1], f"{lines[-1]}{behind}", *more))


def add_dots(
    figure: go.Figure, dots: Sequence[Dot], *, name: str, color: str, symbol: str = "circle", shift: float = 0.0,
    is_named: bool = True, size: int = 10,
) -> None:  # fmt: skip
    """Draw one kind of dot; is_named: whether it stands in the legend."""
    if not dots:
        return
    figure.add_trace(go.Scatter(
        x=[dot.value for dot in dots], y=[dot.row + shift for dot in dots], mode="markers", name=name, legendgroup=name,
        showlegend=is_named, marker={"symbol": symbol, "size": size, "color": color, "line": {"width": 2, "color": color}},
        error_x={
            "type": "data", "symmetric": False, "color": color, "thickness": 1.8, "width": 0,
            "array": [_reach(dot.value, dot.high) for dot in dots],
            "arrayminus": [_reach(dot.low, dot.value) for dot in dots],
        },
        customdata=["<br>".join(escaped(line) for line in dot.said) for dot in dots],
        hovertemplate="%{customdata}<extra></extra>",
    ))  # fmt: skip


def add_rule(figure: go.Figure, at: float, palette: Palette, *, dash: str = "solid", name: str = "") -> None:
    """Draw a thin line across all rows of a `dot_figure`, in the grey that follows the theme; a named one is in the legend."""
    figure.add_scatter(
        x=[at, at], y=list(figure.layout.yaxis.range), mode="lines", hoverinfo="skip", showlegend=bool(name), name=name,
        line={"color": palette.grey, "width": 1, "dash": dash},
    )  # fmt: skip


def share_axis(figure: go.Figure, title: str) -> None:
    """Let the figure's x axis run over all shares."""
    figure.update_xaxes(
        range=[-0.02, 1.02], tickformat=".0%", zeroline=False, showgrid=True, tickvals=[0, 0.25, 0.5, 0.75, 1], title=title
    )


def _reach(low: float | None, high: float | None) -> float:
    """Return the length of one side of an interval."""
    return 0.0 if low is None or high is None else max(high - low, 0.0)
