"""Which share of sold units came back by when, and what is accepted: for a fault and for any reason, or group by group."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.warranty_record import Warranty, WarrantyGroup
from pipelines.charts.frame import group_name
from pipelines.charts.steps import Curve, Look, largest, step_figure
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.verdict import column_words

#: More than this many curves cannot be told apart.
MOST_CURVES = 8


def warranty_figure(answer: Warranty, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw one group's returns for any reason and for a fault, or the returns of several groups; dotted: what is accepted."""
    is_one = len(answer.groups) == 1
    title = f"{column_words(answer.by[0])} " if len(answer.by) == 1 else ""
    look = Look(
        height="returned_share", what="share that came back", axis="days after the sale", unit="days", top=None, is_rising=True,
        legend_title=title, has_one_risk_set=is_one,
    )  # fmt: skip
    figure = step_figure(_two(answer.groups[0]) if is_one else shown(answer), look, palette)
    allowed = next((group.longest.allowed_share for group in answer.groups if group.longest.allowed_share is not None), None)
    if allowed is not None:
        _accepted(figure, allowed, palette)
    return figure


def shown(answer: Warranty) -> list[Curve]:
    """Return the curves of the groups that are drawn, the largest, in the answer's order."""
    return largest([Curve(group_name(one.by), one.returns, one.counts["sales"]) for one in answer.groups], MOST_CURVES)


def undrawn(answer: Warranty) -> int:
    """Return how many groups the figure leaves out because there are more than MOST_CURVES."""
    return max(len(answer.groups) - MOST_CURVES, 0)


def _two(group: WarrantyGroup) -> list[Curve]:
    count = group.counts["sales"]
    return [Curve("for any reason", group.returns, count), Curve("for a fault", group.fault_returns, count)]


def _accepted(figure: go.Figure, share: float, palette: Palette) -> None:
    """Draw the share that may come back, where it lies inside the figure."""
    if share > figure.layout.yaxis.range[1]:
        return
    figure.add_trace(go.Scatter(
        x=list(figure.layout.xaxis.range), y=[share, share], mode="lines", name="accepted", hoverinfo="skip", showlegend=False,
        line={"color": palette.grey, "width": 1, "dash": "dot"},
    ), row=1, col=1)  # fmt: skip
    figure.add_annotation(
        text="accepted", x=0, xref="paper", xanchor="left", y=share, yref="y", yanchor="bottom", showarrow=False,
        font={"size": 11, "color": palette.grey},
    )  # fmt: skip
