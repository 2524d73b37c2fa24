"""Faults by month with their limits: the month asked for in colour, those before in grey."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.monthly_record import Monthly, MonthPoint
from pipelines.charts.frame import framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.change import exposure_words, rate_words
from pipelines.wording.verdict import limits_words

_HEIGHT = 320


def monthly_figure(answer: Monthly, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw every month that has a rate or a limit; a dotted line is the mean of the months before."""
    figure = framed(palette, height=_HEIGHT)
    shown = drawn(answer)
    for is_asked, colour in ((False, palette.grey), (True, palette.line(0))):
        some = [one for one in shown if (one.month == answer.month) is is_asked]
        heights = [one.rate.estimate or 0.0 for one in some]
        figure.add_bar(
            x=[one.month for one in some], y=heights, marker={"color": colour, "opacity": 0.5},
            showlegend=False,
            error_y={
                "type": "data", "symmetric": False, "color": colour, "thickness": 1.8, "width": 0,
                "array": [one.rate.high - height for one, height in zip(some, heights, strict=True)],
                "arrayminus": [height - (one.rate.low or 0.0) for one, height in zip(some, heights, strict=True)],
            },
            customdata=[_said(one) for one in some], hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    if (mean := _mean_before(answer)) is not None:
        figure.add_scatter(
            x=[one.month for one in shown], y=[mean] * len(shown), mode="lines", name="mean of the months before",
            showlegend=True, hoverinfo="skip", line={"color": palette.grey, "width": 1, "dash": "dot"},
        )  # fmt: skip
    figure.update_xaxes(
        type="category", categoryorder="array", categoryarray=[one.month for one in shown], showgrid=False, tickangle=-45
    )
    figure.update_yaxes(title=f"faults for {exposure_words(answer.clock)}", rangemode="tozero", nticks=6)
    return figure


def drawn(answer: Monthly) -> list[MonthPoint]:
    """Return the months that the figure draws."""
    return [one for one in answer.history if one.rate.high is not None]


def _mean_before(answer: Monthly) -> float | None:
    before = answer.history[:-1]
    exposure = sum(one.exposure for one in before)
    return 1000 * sum(one.faults for one in before) / exposure if exposure else None


def _said(one: MonthPoint) -> str:
    limits = limits_words(one.rate.low, one.rate.high, rate_words)
    return f"{one.month}: {rate_words(one.rate.estimate)} ({limits})<br>{one.faults:,} faults, {one.jobs:,} jobs"
