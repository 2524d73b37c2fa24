"""The probability plot of one group: on each law's own axis its line is straight, and the dots follow it or do not."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import plotly.graph_objects as go

from pipelines.answers.laws_record import LawPlot, LawStep
from pipelines.answers.record import Answer
from pipelines.charts.frame import age_axis, framed, unit
from pipelines.charts.theme import SCREEN, Palette
from pipelines.estimates.probability_plot import lognormal_height, weibull_height
from pipelines.wording.verdict import share_words

#: Shares failed that may stand beside an axis, the most wanted first, and how close two may be, as a part of the axis.
_SHARES = (0.5, 0.1, 0.01, 0.9, 0.99, 0.001, 0.05, 0.2, 0.8, 0.02, 0.3, 0.7, 0.95, 0.005, 0.999, 0.0001)
_CLOSE = 0.09
_HEIGHT = 560
#: Room above and below the dots, as a part of their range.
_ROOM = 0.08


def law_figure(answer: Answer, plot: LawPlot, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the dots twice, with the Weibull line above and the lognormal line below, each with its band."""
    figure = framed(palette, height=_HEIGHT, rows=(0.5, 0.5), spacing=0.06)
    figure.update_layout(showlegend=False, margin_t=24)
    for row, (name, steps, heights, height_of) in enumerate((
        ("Weibull", plot.weibull, [point.weibull_height for point in plot.points], weibull_height),
        ("Lognormal", plot.lognormal, [point.lognormal_height for point in plot.points], lognormal_height),
    ), 1):  # fmt: skip
        _law(figure, steps, row, palette)
        _dots(figure, plot, heights, row, palette, answer)
        _axis(figure, heights, height_of, row)
        figure.add_annotation(
            text=f"<b>{name}</b>, share drifted by", x=0.02, xanchor="left", y=1, yanchor="bottom", showarrow=False, font_size=12,
            xref="x domain" if row == 1 else f"x{row} domain", yref="y domain" if row == 1 else f"y{row} domain",
        )  # fmt: skip
    figure.update_xaxes(type="log", showgrid=True, zeroline=False, dtick="D2" if _is_short(plot) else 1, tickformat=",~r")
    figure.update_xaxes(title=f"{age_axis(answer)}, on a log scale", row=2)
    return figure


def _law(figure: go.Figure, steps: Sequence[LawStep], row: int, palette: Palette) -> None:
    known = [step for step in steps if step.low is not None and step.high is not None]
    for limit, fill in (("low", None), ("high", "tonexty")):
        figure.add_trace(go.Scatter(
            x=[step.at for step in known], y=[getattr(step, limit) for step in known], mode="lines", line={"width": 0},
            fill=fill, fillcolor=palette.band(0, of=1), hoverinfo="skip",
        ), row=row, col=1)  # fmt: skip
    figure.add_trace(go.Scatter(
        x=[step.at for step in steps], y=[step.height for step in steps], mode="lines",
        line={"color": palette.line(0), "width": 2}, hoverinfo="skip",
    ), row=row, col=1)  # fmt: skip


def _dots(figure: go.Figure, plot: LawPlot, heights: list[float], row: int, palette: Palette, answer: Answer) -> None:
    figure.add_trace(go.Scatter(
        x=[point.at for point in plot.points], y=heights, mode="markers",
        marker={"size": 6, "color": palette.line(1), "opacity": 0.75},
        customdata=[f"{point.at:,.0f} {unit(answer)}: {share_words(point.failed_share)}" for point in plot.points],
        hovertemplate="%{customdata}<extra></extra>",
    ), row=row, col=1)  # fmt: skip


def _axis(figure: go.Figure, heights: list[float], height_of: Callable, row: int) -> None:
    low, high = (min(heights), max(heights)) if heights else (-3.0, 1.0)
    room = _ROOM * max(high - low, 1.0)
    bottom, top = low - room, high + 3 * room
    ticks: dict[float, float] = {}
    for share in _SHARES:
        height = float(height_of(share))
        if bottom < height < top and all(abs(height - other) > _CLOSE * (top - bottom) for other in ticks):
            ticks[height] = share
    figure.update_yaxes(
        range=[bottom, top], tickvals=list(ticks), ticktext=[_percent(share) for share in ticks.values()], zeroline=False,
        showgrid=True, row=row,
    )  # fmt: skip


def _percent(share: float) -> str:
    return f"{share * 100:g}%"


def _is_short(plot: LawPlot) -> bool:
    """Tell whether the ages span too few powers of ten for ticks at those alone."""
    ages = [point.at for point in plot.points]
    return bool(ages) and max(ages) < 300 * min(ages)
