"""The evidence against one batch as the log grew, with the limits of both alarms; below it, failures observed and expected."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10

import plotly.graph_objects as go

from pipelines.answers.batch_alarm_record import BatchAlarm, Look
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.batch_alarm import evidence_words

_HEIGHT = 520
#: More points than this make a line no finer.
MOST_POINTS = 400
#: Less evidence than this is drawn as this.
LEAST = 0.01


def batch_alarm_figure(answer: BatchAlarm, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the batch shown; a dot marks the day of each alarm."""
    figure = framed(palette, height=_HEIGHT, rows=(0.58, 0.42), spacing=0.13)
    looks = drawn(answer.looks)
    days = [one.on for one in looks]
    figure.add_scatter(
        x=days, y=[max(one.evidence, LEAST) for one in looks], mode="lines", line={"color": palette.line(0), "width": 2},
        name="evidence", showlegend=False, customdata=[evidence_words(one.evidence) for one in looks],
        hovertemplate="%{x}: evidence %{customdata}<extra></extra>", row=1, col=1,
    )  # fmt: skip
    one = next(one for one in answer.batches if one.batch == answer.shown)
    for name, limit, at in (("watch it", answer.watch_limit, one.watch), ("stop buying it", answer.stop_limit, one.stop)):
        figure.add_scatter(
            x=[days[0], days[-1]], y=[limit, limit], mode="lines+text", text=["", f"{name} ({limit:g})"], textposition="top left",
            line={"color": palette.grey, "width": 1, "dash": "dot"}, showlegend=False, hoverinfo="skip", row=1, col=1,
        )  # fmt: skip
        if at is not None:
            figure.add_scatter(
                x=[at.on], y=[limit], mode="markers", marker={"color": palette.line(0), "size": 11}, showlegend=False,
                hovertemplate=f"{name}: {at.on}<extra>{escaped(one.batch)}</extra>", row=1, col=1,
            )  # fmt: skip
    for name, values, colour, dash in (
        ("failures found", [one.failures for one in looks], palette.line(0), "solid"),
        ("its share were it like the others", [one.expected for one in looks], palette.grey, "dash"),
    ):  # fmt: skip
        figure.add_scatter(
            x=days, y=values, mode="lines", line={"color": colour, "width": 2, "dash": dash}, name=name,
            hovertemplate="%{x}: %{y:,.1f}<extra>" + name + "</extra>", row=2, col=1,
        )  # fmt: skip
    decades = _decades([one.evidence for one in looks] + [answer.stop_limit])
    figure.update_yaxes(
        type="log", title="evidence", tickvals=[10.0**one for one in decades], ticktext=[_power(one) for one in decades],
        row=1, col=1,
    )  # fmt: skip
    figure.update_yaxes(title="failures so far", rangemode="tozero", nticks=5, row=2, col=1)
    figure.update_xaxes(type="date", showgrid=False)
    figure.update_layout(legend={"y": figure.layout.yaxis2.domain[1], "yanchor": "bottom"})
    return figure


def drawn(looks: Sequence[Look]) -> list[Look]:
    """Return the looks that are drawn, the first and the last among them."""
    step = -(-len(looks) // MOST_POINTS)
    return [*looks[:-1:step], looks[-1]] if looks else []


def _decades(evidence: Sequence[float]) -> range:
    """Return the powers of ten to be written beside the axis, ten at most."""
    low, high = floor(log10(max(min(evidence), LEAST))), ceil(log10(max(evidence)))
    return range(low, high + 1, max(ceil((high - low) / 9), 1))


def _power(of: int) -> str:
    return f"{10.0**of:,g}" if of < 6 else f"10<sup>{of}</sup>"
