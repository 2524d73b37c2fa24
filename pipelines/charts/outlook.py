"""Faults of past quarters against what was expected, with the coming one; and what the shelf needs against what is on it."""

from __future__ import annotations

import datetime as dt

import plotly.graph_objects as go

from pipelines.answers.next_failures_record import NextFailures
from pipelines.answers.shelf_record import Shelf, ShelfRow
from pipelines.charts.dots import Dot, add_dots, dot_figure, row_name
from pipelines.charts.frame import framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.outlook import count_words
from pipelines.wording.shelf import MODULE, part_words

_HEIGHT, _ROW = 340, 44
_QUARTER = dt.timedelta(days=91)


def forecast_figure(answer: NextFailures, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the faults of past 13 weeks, what was expected of them, and the coming 13 weeks with their limits."""
    figure = framed(palette, height=_HEIGHT)
    past, coming = answer.quarters, answer.groups[0].faults
    days = [one.ends_on for one in past]
    figure.add_scatter(
        x=days, y=[one.expected for one in past], mode="lines", name="expected from the record", hoverinfo="skip",
        line={"color": palette.grey, "width": 2, "dash": "dot"},
    )  # fmt: skip
    figure.add_scatter(
        x=days, y=[one.observed for one in past], mode="markers", name="faults", marker={"color": palette.line(0), "size": 10},
        hovertemplate="13 weeks to %{x}: %{y:,} faults<extra></extra>",
    )  # fmt: skip
    figure.add_scatter(
        x=[(dt.date.fromisoformat(answer.log_end) + _QUARTER).isoformat()], y=[coming.estimate], mode="markers",
        name="the next 13 weeks", marker={"color": palette.line(1), "size": 10, "symbol": "diamond"},
        error_y={"type": "data", "symmetric": False, "array": [max(coming.high - coming.estimate, 0)],
                 "arrayminus": [max(coming.estimate - coming.low, 0)], "color": palette.line(1), "thickness": 2, "width": 4},
        hovertemplate=f"the next 13 weeks: {count_words(coming)} faults<extra></extra>",
    )  # fmt: skip
    figure.update_xaxes(type="date", title="13 weeks up to", showgrid=False)
    figure.update_yaxes(title="faults", rangemode="tozero", tickformat=",")
    return figure


def shelf_figure(answer: Shelf, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw a row for each kind of module: what is needed within the lead time, what to keep, and what is at hand."""
    rows = shown(answer)
    figure = dot_figure([row_name(part_words(row)) for row in rows], palette, row_height=_ROW)
    needed = [
        Dot(place, row.demand.estimate, row.demand.low, row.demand.high, (part_words(row), f"needed: {count_words(row.demand)}"))
        for place, row in enumerate(rows)
    ]
    add_dots(figure, needed, name="needed in the lead time", color=palette.line(0))
    for name, of, color, symbol in (
        ("order anew at", "keep", palette.line(1), "diamond"), ("at hand, by the record", "at_hand", palette.grey, "square-open"),
    ):  # fmt: skip
        dots = [
            Dot(place, float(getattr(row, of)), None, None, (part_words(row), f"{name}: {getattr(row, of):,}"))
            for place, row in enumerate(rows) if getattr(row, of) is not None
        ]  # fmt: skip
        add_dots(figure, dots, name=name, color=color, symbol=symbol)
    figure.update_xaxes(title="modules", rangemode="tozero", showgrid=True, tickformat=",")
    return figure


def shown(answer: Shelf) -> list[ShelfRow]:
    """Return the rows that the figure draws."""
    return [row for row in answer.rows if row.kind == MODULE and row.because is None]
