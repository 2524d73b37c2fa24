"""Survival curves with their limits, and under the axis how many were at risk."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go

from pipelines.answers.record import Answer, CurvePoint, LifeGroup, LifePart
from pipelines.charts.frame import escaped, framed, nice_ticks
from pipelines.charts.theme import DASHES, SCREEN, Palette
from pipelines.vocabulary import Clock, Question
from pipelines.wording.label import label
from pipelines.wording.verdict import column_words, value_words

#: More than this many curves cannot be told apart.
MOST_CURVES = 8
#: Steps a curve is drawn with; the record keeps them all.
MOST_STEPS = 400
_ROW = 22


@dataclass(frozen=True)
class _Curve:
    name: str
    points: Sequence[CurvePoint]
    spell_count: int


def survival_figure(answer: Answer, *, is_age_known: bool = True, palette: Palette = SCREEN) -> go.Figure:
    """Draw one step curve per group of a time-to-failure or recurrence answer.

    is_age_known: False draws the modules of unknown age, from when they were first seen. Where too few were at risk
    the line is faint and has no band. The largest MOST_CURVES groups are drawn; `undrawn` counts the others.
    """
    curves = shown(answer, is_age_known=is_age_known)
    rows = _share_of_rows(curves)
    figure = framed(palette, height=_height(curves) + _legend_height(curves), rows=(1 - rows, rows))
    figure.update_layout(legend_title_text=_legend_title(answer), showlegend=bool(answer.by))
    longest = max((curve.points[-1].at for curve in curves), default=0.0)
    ticks = nice_ticks(longest)
    for place, curve in enumerate(curves):
        _draw(figure, curve, place, len(curves), palette, answer)
        _at_risk(figure, curve, place, palette, ticks)
    figure.update_xaxes(range=[-0.05 * longest, 1.03 * longest] if longest else [-0.05, 1], tickvals=ticks, zeroline=False)
    figure.update_xaxes(title=_axis(answer, is_age_known), row=2, showgrid=False, showticklabels=True, ticklabelstandoff=2)
    figure.update_yaxes(tickformat=".0%", range=[-0.02, 1.04], row=1, zeroline=False)
    figure.update_yaxes(
        row=2, range=[len(curves) - 0.4, -1.4], tickvals=list(range(len(curves))), showgrid=False, zeroline=False,
        ticktext=[escaped(_short(curve.name)) for curve in curves],
    )  # fmt: skip
    _small_print(figure, "at risk", yref="y2 domain", y=1.0, xref="paper", x=0, xanchor="left")
    _small_print(figure, "share still free of drift", yref="y domain", y=1.0, xref="paper", x=1, xanchor="right")
    return figure


def undrawn(answer: Answer, *, is_age_known: bool = True) -> int:
    """Return how many groups have a curve that the figure leaves out because there are more than MOST_CURVES."""
    return max(len(_curves(answer, is_age_known)) - MOST_CURVES, 0)


def shown(answer: Answer, *, is_age_known: bool = True) -> list[_Curve]:
    """Return the curves that the figure draws: the largest, in the answer's order."""
    curves = _curves(answer, is_age_known)
    largest = sorted(range(len(curves)), key=lambda place: -curves[place].spell_count)[:MOST_CURVES]
    return [curves[place] for place in sorted(largest)]


def _curves(answer: Answer, is_age_known: bool) -> list[_Curve]:
    found = []
    for group in answer.groups:
        part: LifeGroup | LifePart | None = group if is_age_known else group.since_first_seen
        if part is not None and part.curve:
            found.append(_Curve(_name(group.by), part.curve, part.counts["spells"]))
    return found


def _name(by: Mapping[str, str | int | None]) -> str:
    """Return the name of a curve; with a single grouping column the legend's title names it, so the value suffices."""
    if len(by) == 1:
        ((column, value),) = by.items()
        return value_words(column, value)
    return label(by)


def _legend_title(answer: Answer) -> str:
    return f"{column_words(answer.by[0])} " if len(answer.by) == 1 else ""


def _draw(figure: go.Figure, curve: _Curve, place: int, count: int, palette: Palette, answer: Answer) -> None:
    points = thinned(curve.points)
    drawn = [number for number, point in enumerate(points) if point.is_drawn]
    first, last = (drawn[0], drawn[-1]) if drawn else (len(points), len(points))
    solid = points[first : last + 1]
    known = [point for point in solid if point.low is not None and point.high is not None]
    _band(figure, known, palette.line(place), palette.band(place, of=count))
    dash = DASHES[place % len(DASHES)]
    common = {"legendgroup": str(place), "unit": "h" if answer.clock == Clock.HOURS else "days"}
    name = curve.name if drawn else f"{curve.name} (too few to say)"
    for part in (points[: first + 1] if drawn else points, points[last:]):
        if len(part) > 1:
            line = {"color": palette.faint(place), "width": 1.5, "dash": dash}
            _line(figure, part, line, name=name, showlegend=not drawn and part[0] is points[0], **common)
    if solid:
        _line(figure, solid, {"color": palette.line(place), "width": 2.2, "dash": dash}, name=name, showlegend=True, **common)


def _small_print(figure: go.Figure, text: str, **place) -> None:
    figure.add_annotation(text=text, yanchor="top", showarrow=False, font_size=11, opacity=0.8, **place)


def _line(figure: go.Figure, points: Sequence[CurvePoint], line: dict, *, unit: str, name: str, **more) -> None:
    figure.add_trace(go.Scatter(
        x=_array(points, "at"), y=_array(points, "surviving_share"),
        customdata=np.array([f"{point.at_risk:,}" for point in points]), mode="lines", line={**line, "shape": "hv"},
        name=escaped(name),
        hovertemplate=f"%{{fullData.name}}<br>%{{x:,.0f}} {unit}: %{{y:.0%}}<br>%{{customdata}} at risk<extra></extra>",
        **more,
    ), row=1, col=1)  # fmt: skip


def _array(points: Sequence[CurvePoint], name: str) -> np.ndarray:
    # an array passes plotly's checks at once, a list value by value
    return np.array([getattr(point, name) for point in points], dtype=float)


def _band(figure: go.Figure, points: Sequence[CurvePoint], line: str, area: str) -> None:
    for limit, fill in (("low", None), ("high", "tonexty")):
        figure.add_trace(go.Scatter(
            x=_array(points, "at"), y=_array(points, limit), mode="lines",
            line={"shape": "hv", "width": 0, "color": line}, fill=fill, fillcolor=area, showlegend=False,
            hoverinfo="skip",
        ), row=1, col=1)  # fmt: skip


def _at_risk(figure: go.Figure, curve: _Curve, place: int, palette: Palette, ticks: Sequence[float]) -> None:
    figure.add_trace(go.Scatter(
        x=list(ticks), y=[place] * len(ticks), mode="text", text=[f"{at_risk(curve.points, tick):,}" for tick in ticks],
        textfont={"color": palette.line(place), "size": 11}, legendgroup=str(place), showlegend=False, hoverinfo="skip",
        cliponaxis=False,
    ), row=2, col=1)  # fmt: skip


def at_risk(points: Sequence[CurvePoint], at: float) -> int:
    """Return how many were at risk when the first exit at or after this time came; none after the last."""
    place = bisect_left(points, at, key=lambda point: point.at)
    return points[place].at_risk if place < len(points) else 0


def thinned(points: Sequence[CurvePoint]) -> list[CurvePoint]:
    """Return at most about MOST_STEPS points: evenly many of them, with both ends and where the guard begins and ends."""
    if len(points) <= MOST_STEPS:
        return list(points)
    step = len(points) / (MOST_STEPS - 4)
    kept = {int(number * step) for number in range(MOST_STEPS - 4)} | {len(points) - 1}
    ends = (range(len(points)), range(len(points) - 1, -1, -1))
    kept |= {next((number for number in walk if points[number].is_drawn), 0) for walk in ends}
    return [points[number] for number in sorted(kept)]


def _axis(answer: Answer, is_age_known: bool) -> str:
    clock = "play hours" if answer.clock == Clock.HOURS else "days"
    if answer.question == Question.RECURRENCE:
        return f"{clock} after the clean"
    return f"{clock} in service" if is_age_known else f"{clock} since first seen"


def _height(curves: Sequence[_Curve]) -> int:
    return 350 + _ROW * len(curves)


def _share_of_rows(curves: Sequence[_Curve]) -> float:
    return _ROW * (len(curves) + 1.5) / _height(curves)


def _legend_height(curves: Sequence[_Curve]) -> int:
    """Return what the legend needs beyond its first line on a phone, where about 300 pixels are left for it."""
    width = sum(55 + 7 * len(curve.name) for curve in curves)
    return 24 * (width // 300)


def _short(name: str) -> str:
    return name if len(name) <= 13 else f"{name[:12]}…"
