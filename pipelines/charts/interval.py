"""A curve of failures that are only known to lie between two visits: where it falls is uncertain, and shaded."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from pipelines.answers.detail import Interval
from pipelines.answers.record import Answer, LifeGroup
from pipelines.charts.frame import age_axis, framed, nice_ticks, unit
from pipelines.charts.theme import SCREEN, Palette

#: (left, right, low, high)
Box = tuple[float, float, float, float]
#: A share that falls by less than this does not fall.
_NOTHING = 1e-9


def interval_figure(answer: Answer, group: LifeGroup, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the interval curve of a group: lines where the share is known, areas where it falls somewhere inside."""
    curve = group.interval_curve
    points = _falling(curve.points) if curve is not None else []
    figure = framed(palette, height=340)
    figure.update_layout(showlegend=True)
    if points:
        start = curve.given_at or 0.0
        color = palette.line(0)
        _shaded(figure, _limits(points), "limits", palette.band(0, of=10), width=0)
        # the edge lets a fall too small for an area be seen
        _shaded(figure, _falls(points), "falls somewhere inside", palette.faint(0), width=1.5)
        figure.add_trace(go.Scatter(
            **_flats(points, start), mode="lines", line={"color": color, "width": 2.2}, name="share still free of drift",
            hovertemplate=f"%{{x:,.0f}} {unit(answer)}: %{{y:.0%}}<extra></extra>",
        ))  # fmt: skip
        longest = points[-1].to_at
        figure.update_xaxes(range=[-0.03 * longest, 1.03 * longest], tickvals=nice_ticks(longest))
    figure.update_xaxes(title=age_axis(answer), zeroline=False)
    figure.update_yaxes(tickformat=".0%", range=[-0.02, 1.04], zeroline=False)
    return figure


def _flats(points: Sequence[Interval], start: float) -> dict[str, list[float | None]]:
    """Return the stretches over which the share is known to stay, with gaps between them."""
    x, y, at, share = [], [], start, 1.0
    for point in points:
        x += [at, point.from_at, None]
        y += [share, share, None]
        at, share = point.to_at, point.surviving_share
    return {"x": [*x, at], "y": [*y, share]}


def _falling(points: Sequence[Interval]) -> list[Interval]:
    """Return the stretches in which the curve does fall."""
    before = [1.0, *(point.surviving_share for point in points[:-1])]
    return [point for point, share in zip(points, before, strict=True) if share - point.surviving_share > _NOTHING]


def _falls(points: Sequence[Interval]) -> list[Box]:
    """Return where the curve falls."""
    before = [1.0, *(point.surviving_share for point in points[:-1])]
    return [(point.from_at, point.to_at, point.surviving_share, share) for point, share in zip(points, before, strict=True)]


def _limits(points: Sequence[Interval]) -> list[Box]:
    """Return the limits: of each share to where the next fall begins, and of both shares together while it falls."""
    boxes, before = [], 1.0
    ends = [*(point.from_at for point in points[1:]), points[-1].to_at]
    for point, end in zip(points, ends, strict=True):
        if point.low is not None and before is not None:
            boxes.append((point.from_at, point.to_at, point.low, before))
        if point.low is not None and point.high is not None:
            boxes.append((point.to_at, end, point.low, point.high))
        before = point.high
    return boxes


def _shaded(figure: go.Figure, boxes: Sequence[Box], name: str, area: str, *, width: float) -> None:
    if not boxes:
        return
    x, y = [], []
    for left, right, low, high in boxes:
        x += [left, right, right, left, left, None]
        y += [low, low, high, high, low, None]
    figure.add_trace(go.Scatter(
        x=x, y=y, mode="lines", line={"width": width, "color": area}, fill="toself", fillcolor=area, name=name, hoverinfo="skip"
    ))  # fmt: skip
