"""Step curves with their limits, and under the axis how many were at risk: survival, incidence, mean counts."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import numpy as np
import plotly.graph_objects as go

from pipelines.answers.detail import FailedPoint, MeanPoint
from pipelines.answers.record import CurvePoint
from pipelines.charts.frame import escaped, framed, nice_ticks
from pipelines.charts.theme import DASHES, Palette

Point = CurvePoint | FailedPoint | MeanPoint

#: Steps a curve is drawn with; the record keeps them all.
MOST_STEPS = 400
_ROW, _TWO_LINES, _PLOT, _LABEL_LINE = 22, 42, 300, 18


@dataclass(frozen=True)
class Curve:
    """One line of a figure; `count` is how much stands behind it."""

    name: str
    points: Sequence[Point]
    count: int


@dataclass(frozen=True)
class Look:
    """What tells one figure of step curves from another.

    height: the field of a point that is drawn; what: small print above it; top: of the axis, None where the data decide.
    has_one_risk_set: the curves share those at risk and are named at their ends, without a legend.
    """

    height: str
    what: str
    axis: str
    unit: str
    tickformat: str = ".0%"
    top: float | None = 1.04
    is_rising: bool = False
    legend_title: str = ""
    has_legend: bool = True
    has_one_risk_set: bool = False


def step_figure(curves: Sequence[Curve], look: Look, palette: Palette) -> go.Figure:
    """Draw the curves; where too few were at risk a line is faint and has no band."""
    rows = curves[:1] if look.has_one_risk_set else curves
    names = [" " if look.has_one_risk_set else _wrapped(curve.name) for curve in rows]
    row = _TWO_LINES if any("<br>" in name for name in names) else _ROW
    height = _PLOT + 50 + row * len(rows)
    below = row * (len(rows) + 1.5) / height
    has_legend = look.has_legend and not look.has_one_risk_set
    figure = framed(palette, height=height + (_legend_height(curves) if has_legend else 0), rows=(1 - below, below))
    figure.update_layout(legend={"title": {"text": look.legend_title}}, showlegend=has_legend)
    longest = max((curve.points[-1].at for curve in curves), default=0.0)
    ticks = nice_ticks(longest)
    for place, curve in enumerate(curves):
        _draw(figure, curve, place, len(curves), palette, look)
    for place, curve in enumerate(rows):
        _at_risk(figure, curve, place, palette, ticks, has_ink=not look.has_one_risk_set)
    figure.update_xaxes(range=[-0.05 * longest, 1.03 * longest] if longest else [-0.05, 1], tickvals=ticks, zeroline=False)
    figure.update_xaxes(tickformat=",")
    figure.update_xaxes(title={"text": look.axis}, row=2, showgrid=False, showticklabels=True, ticklabelstandoff=2)
    top = look.top or 1.08 * _highest(curves, look)
    figure.update_yaxes(tickformat=look.tickformat, range=[-0.02 * top, top], row=1, zeroline=False)
    figure.update_yaxes(
        row=2, range=[len(rows) - 0.4, -1.4], tickvals=list(range(len(rows))), showgrid=False, zeroline=False,
        ticktext=names,
    )  # fmt: skip
    if look.has_one_risk_set:
        _name_ends(figure, curves, look, top, palette)
    _small_print(figure, "at risk", yref="y2 domain", y=1.0, xref="paper", x=0, xanchor="left")
    _small_print(figure, look.what, yref="y domain", y=1.0, xref="paper", **_clear_of(look))
    return figure


def largest(curves: Sequence[Curve], most: int) -> list[Curve]:
    """Return the curves with most behind them, in their own order."""
    kept = sorted(range(len(curves)), key=lambda place: -curves[place].count)[:most]
    return [curves[place] for place in sorted(kept)]


def at_risk(points: Sequence[Point], at: float) -> int:
    """Return how many were at risk when the first exit at or after this time came; none after the last."""
    place = bisect_left(points, at, key=lambda point: point.at)
    return points[place].at_risk if place < len(points) else 0


def thinned(points: Sequence[Point]) -> list[Point]:
    """Return at most about MOST_STEPS points: evenly many of them, with both ends and where the guard begins and ends."""
    if len(points) <= MOST_STEPS:
        return list(points)
    step = len(points) / (MOST_STEPS - 4)
    kept = {int(number * step) for number in range(MOST_STEPS - 4)} | {len(points) - 1}
    ends = (range(len(points)), range(len(points) - 1, -1, -1))
    kept |= {next((number for number in walk if points[number].is_drawn), 0) for walk in ends}
    return [points[number] for number in sorted(kept)]


def _draw(figure: go.Figure, curve: Curve, place: int, count: int, palette: Palette, look: Look) -> None:
    points = thinned(curve.points)
    first, last = _drawn(points)
    solid = points[first : last + 1]
    known = [point for point in solid if point.low is not None and point.high is not None]
    _band(figure, known, palette.line(place), palette.band(place, of=count))
    is_drawn, dash = bool(solid), DASHES[place % len(DASHES)]
    common = {"legendgroup": str(place), "look": look}
    name = curve.name if is_drawn else f"{curve.name} (too few to say)"
    for part in (points[: first + 1] if is_drawn else points, points[last:]):
        if len(part) > 1:
            line = {"color": palette.faint(place), "width": 1.5, "dash": dash}
            _line(figure, part, line, name=name, showlegend=not is_drawn and part[0] is points[0], **common)
    if solid:
        _line(figure, solid, {"color": palette.line(place), "width": 2.2, "dash": dash}, name=name, showlegend=True, **common)


def _drawn(points: Sequence[Point]) -> tuple[int, int]:
    """Return the first and the last place where enough are at risk; the length twice where there is none."""
    drawn = [number for number, point in enumerate(points) if point.is_drawn]
    return (drawn[0], drawn[-1]) if drawn else (len(points), len(points))


def _small_print(figure: go.Figure, text: str, **place) -> None:
    figure.add_annotation(text=text, yanchor="top", showarrow=False, font={"size": 11}, opacity=0.8, **place)


def _clear_of(look: Look) -> dict[str, object]:
    """Put the small print where the curves are not: a falling curve leaves the right free, a rising one the left."""
    if look.is_rising:
        return {"x": 0.02, "xanchor": "left"}
    return {"x": 1, "xanchor": "right", "yshift": -12}  # below the line of 100 %


def _line(figure: go.Figure, points: Sequence[Point], line: dict, *, look: Look, name: str, **more) -> None:
    said = "%{y:.0%}" if look.tickformat.endswith("%") else "%{y:.2f}"
    figure.add_trace(go.Scatter(
        x=_array(points, "at"), y=_array(points, look.height),
        customdata=np.array([f"{point.at_risk:,}" for point in points]), mode="lines", line={**line, "shape": "hv"},
        name=escaped(name),
        hovertemplate=f"%{{fullData.name}}<br>%{{x:,.0f}} {look.unit}: {said}<br>%{{customdata}} at risk<extra></extra>",
        **more,
    ), row=1, col=1)  # fmt: skip


def _array(points: Sequence[Point], name: str) -> np.ndarray:
    # an array passes plotly's checks at once, a list value by value
    return np.array([getattr(point, name) for point in points], dtype=float)


def _band(figure: go.Figure, points: Sequence[Point], line: str, area: str) -> None:
    for limit, fill in (("low", None), ("high", "tonexty")):
        figure.add_trace(go.Scatter(
            x=_array(points, "at"), y=_array(points, limit), mode="lines",
            line={"shape": "hv", "width": 0, "color": line}, fill=fill, fillcolor=area, showlegend=False,
            hoverinfo="skip",
        ), row=1, col=1)  # fmt: skip


def _at_risk(figure: go.Figure, curve: Curve, place: int, palette: Palette, ticks: Sequence[float], *, has_ink: bool) -> None:
    font = {"size": 11, "color": palette.line(place)} if has_ink else {"size": 11}
    figure.add_trace(go.Scatter(
        x=list(ticks), y=[place] * len(ticks), mode="text", text=[f"{at_risk(curve.points, tick):,}" for tick in ticks],
        textfont=font, legendgroup=str(place), showlegend=False, hoverinfo="skip", cliponaxis=False,
    ), row=2, col=1)  # fmt: skip


def _highest(curves: Sequence[Curve], look: Look) -> float:
    """Return the highest value that is drawn in full, with its limit."""
    heights = [
        max(getattr(point, look.height), point.high or 0.0) for curve in curves for point in curve.points if point.is_drawn
    ] or [getattr(point, look.height) for curve in curves for point in curve.points]
    return max(heights, default=0.0) or 1.0


def _name_ends(figure: go.Figure, curves: Sequence[Curve], look: Look, top: float, palette: Palette) -> None:
    """Write each name beside the end of its curve, moved apart where the ends are close."""
    names = [wrap(curve.name, 13, max_lines=2, placeholder="…") or [" "] for curve in curves]
    halves = [_LABEL_LINE * len(name) * 1.02 * top / (_PLOT - _ROW) / 2 for name in names]
    heights = _apart([_end(curve, look) for curve in curves], halves, top)
    for place, (name, height) in enumerate(zip(names, heights, strict=True)):
        figure.add_annotation(
            text="<br>".join(escaped(line) for line in name), x=1.01, xref="paper", xanchor="left", align="left",
            y=height, yref="y", yanchor="middle", showarrow=False, font={"size": 12, "color": palette.line(place)},
        )  # fmt: skip
    figure.update_layout(margin={"r": 14 + 7 * max((len(line) for name in names for line in name), default=0)})


def _apart(wanted: Sequence[float], halves: Sequence[float], top: float) -> list[float]:
    """Move heights up until none is closer to the next than both halves, then down again below the top."""
    order = sorted(range(len(wanted)), key=lambda place: wanted[place])
    heights, floor = list(wanted), 0.0
    for place in order:
        heights[place] = max(heights[place], floor + halves[place])
        floor = heights[place] + halves[place]
    ceiling = top
    for place in reversed(order):
        heights[place] = min(heights[place], ceiling - halves[place])
        ceiling = heights[place] - halves[place]
    return heights


def _end(curve: Curve, look: Look) -> float:
    points = thinned(curve.points)
    first, last = _drawn(points)
    return float(getattr(points[last if first < len(points) else -1], look.height))


def _legend_height(curves: Sequence[Curve]) -> int:
    """Return what the legend needs beyond its first line on a phone, where about 300 pixels are left for it."""
    width = sum(55 + 7 * len(curve.name) for curve in curves)
    return 24 * (width // 300)


def _wrapped(name: str) -> str:
    """Return a name in up to two lines, narrow enough for a phone."""
    return "<br>".join(escaped(line) for line in wrap(name, 14, max_lines=2, placeholder="…")) or " "
