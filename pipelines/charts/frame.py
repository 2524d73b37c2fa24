"""What all figures share: size, fonts, margins, ticks, and text from data made harmless."""

from __future__ import annotations

import html
import math
from collections.abc import Mapping

import plotly.graph_objects as go
from plotly.subplots import make_subplots

from pipelines.answers.record import Answer
from pipelines.charts.theme import Palette
from pipelines.vocabulary import Clock, Question
from pipelines.wording.label import label
from pipelines.wording.verdict import column_words, value_words


def framed(palette: Palette, *, height: int, rows: tuple[float, ...] = (1.0,), spacing: float = 0.02) -> go.Figure:
    """Return an empty figure; `rows` are the heights of stacked parts that share their x axis."""
    figure = make_subplots(rows=len(rows), cols=1, shared_xaxes=True, row_heights=list(rows), vertical_spacing=spacing)
    figure.update_layout(
        height=height,
        margin={"l": 8, "r": 12, "t": 8, "b": 8},
        legend={"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "xanchor": "left"},
        hovermode="closest",
        # a drag over the figure scrolls the page, on a phone above all
        dragmode=False,
        paper_bgcolor=palette.paper,
        plot_bgcolor=palette.paper,
        font={"color": palette.ink} if palette.ink else {},
    )
    figure.update_xaxes(automargin=True, title={"standoff": 8})
    figure.update_yaxes(automargin=True, title={"standoff": 8})
    return figure


def escaped(text: str) -> str:
    """Return text from the log so that the figure shows it as it is; figures read a little HTML."""
    return html.escape(text, quote=False)


def nice_ticks(longest: float, *, most: int = 6) -> list[float]:
    """Return at most `most` + 1 round numbers from 0 up to `longest`."""
    if not longest > 0:
        return [0.0]
    rough = longest / most
    power = 10 ** math.floor(math.log10(rough))
    step = next(power * times for times in (1, 2, 2.5, 5, 10) if power * times >= rough * (1 - 1e-9))
    return [step * number for number in range(int(longest / step + 1e-9) + 1)]


def group_name(by: Mapping[str, str | int | None]) -> str:
    """Return the name of a group in a legend; with one grouping column the legend's title names it, so the value suffices."""
    if len(by) == 1:
        ((column, value),) = by.items()
        return value_words(column, value)
    return label(by)


def legend_title(answer: Answer) -> str:
    """Return the grouping column as the title of a legend whose entries are its values."""
    return f"{column_words(answer.by[0])} " if len(answer.by) == 1 else ""


def unit(answer: Answer) -> str:
    """Return the short unit of the answer's clock."""
    return "h" if answer.clock == Clock.HOURS else "days"


def age_axis(answer: Answer) -> str:
    """Return the title of an age axis."""
    clock = "play hours" if answer.clock == Clock.HOURS else "days"
    return f"{clock} after the clean" if answer.question == Question.RECURRENCE else f"{clock} in service"
