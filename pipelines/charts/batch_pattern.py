"""A supplier batch beside the rest made alike: both curves, their difference by age, and where the excess comes from."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from pipelines.answers.batch_pattern_record import BatchPattern, MechanismRow, PairPoint
from pipelines.answers.record import CurvePoint
from pipelines.charts.dots import Dot, add_dots, add_rule, dot_figure, row_name
from pipelines.charts.frame import escaped, framed, nice_ticks
from pipelines.charts.steps import Curve, Look, step_figure
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import Clock
from pipelines.wording.batch_pattern import excess_words, mechanism_words
from pipelines.wording.verdict import duration_words, limits_words, share_words

_HEIGHT = 300
#: So many bands would be faint ones.
_FAINT = 10


def pair_figure(answer: BatchPattern, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw both shares still free of failure with their limits, and how many were at risk."""
    look = Look(height="surviving_share", what="share still free of failure", axis=_axis(answer), unit=_unit(answer))
    start = answer.curves.counted_from or 0.0
    curves = [
        Curve(name, _steps(answer.curves.points, side, start), count)
        for name, side, count in (
            (answer.batch, "batch", answer.counts["modules"]), (rest_words(answer), "rest", answer.counts["rest_modules"]),
        )
    ]  # fmt: skip
    return step_figure(curves, look, palette)


def difference_figure(answer: BatchPattern, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw how many more of the batch had failed by each age, with limits for that age alone and the band for all ages."""
    figure, points = framed(palette, height=_HEIGHT), answer.curves.points
    clock = Clock(answer.clock)
    for low, high, name, shades in (("band_low", "band_high", "at all ages together", _FAINT), ("low", "high", "at that age", 1)):
        known = [one for one in points if getattr(one, low) is not None]
        ages = [one.at for one in known]
        # more failed is less surviving, so the ends change places
        for end, fill in ((high, None), (low, "tonexty")):
            figure.add_scatter(
                x=ages, y=[-getattr(one, end) for one in known], mode="lines", line={"shape": "hv", "width": 0}, fill=fill,
                fillcolor=palette.band(0, of=shades), hoverinfo="skip", showlegend=fill is not None, name=name, legendgroup=name,
            )  # fmt: skip
    figure.add_scatter(
        x=[one.at for one in points], y=[-one.difference for one in points], mode="lines", showlegend=False, name=answer.batch,
        line={"shape": "hv", "width": 2.2, "color": palette.line(0)},
        customdata=[
            escaped(f"{duration_words(one.at, clock)}: {_points(-one.difference)} "
                    f"({limits_words(-one.high, -one.low, _points)})") for one in points
        ],
        hovertemplate="%{customdata}<extra></extra>",
    )  # fmt: skip
    _rule(figure, x=[0, points[-1].at], y=[0, 0], palette=palette)
    for crossing in (answer.pattern.curves_cross, answer.pattern.rates_cross):
        if answer.kind == "crossing" and crossing.estimate is not None:
            ends = [-getattr(one, end) for one in points for end in ("low", "high") if getattr(one, end) is not None]
            _rule(figure, x=[crossing.estimate] * 2, y=[min(ends, default=0), max(ends, default=0)], palette=palette, dash="dot")
    longest = points[-1].at
    figure.update_xaxes(
        title=_axis(answer), range=[-0.05 * longest, 1.03 * longest], tickvals=nice_ticks(longest), tickformat=",", zeroline=False
    )
    figure.update_yaxes(title="more of the batch failed", tickformat=".0%", zeroline=False)
    return figure


def _rule(figure: go.Figure, *, x: list[float], y: list[float], palette: Palette, dash: str = "solid") -> None:
    """Draw a thin line in the grey that follows the theme."""
    line = {"color": palette.grey, "width": 1, "dash": dash}
    figure.add_scatter(x=x, y=y, mode="lines", hoverinfo="skip", showlegend=False, line=line)


def excess_figure(answer: BatchPattern, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the failures of each mechanism beyond those expected, the largest excess on top; sources in colour."""
    rows = answer.mechanisms.rows
    figure = dot_figure([row_name(mechanism_words(row.mechanism), count=row.failures) for row in rows], palette)
    kinds = ((True, "more than luck explains", palette.line(0)), (False, "as luck may have it", palette.grey))
    for is_source, name, color in kinds:
        dots = [
            Dot(place, row.excess.estimate, row.excess.low, row.excess.high, (
                mechanism_words(row.mechanism), f"{row.failures:,} failures, {row.expected:,.1f} expected",
                excess_words(row.excess),
            ))
            for place, row in enumerate(rows) if row.is_source is is_source
        ]  # fmt: skip
        add_dots(figure, dots, name=name, color=color)
    add_rule(figure, 0.0, palette)
    figure.update_xaxes(title="failures beyond those expected", zeroline=False)
    return figure


def mechanism_figure(answer: BatchPattern, row: MechanismRow, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the shares of batch and rest that failed of one mechanism, where the others end lives too."""
    look = Look(
        height="failed_share", what=f"share failed of {escaped(mechanism_words(row.mechanism))}", axis=_axis(answer),
        unit=_unit(answer), tickformat=".2~%", top=None, is_rising=True,
    )  # fmt: skip
    curves = [Curve(answer.batch, row.curve, row.failures), Curve(rest_words(answer), row.rest_curve, row.rest_failures)]
    return step_figure(curves, look, palette)


def rest_words(answer: BatchPattern) -> str:
    """Return what the batch is held against, in two or three words."""
    return answer.reference or "others alike"


def _steps(points: Sequence[PairPoint], side: str, start: float) -> list[CurvePoint]:
    columns = ("at", side, f"{side}_low", f"{side}_high", f"{side}_at_risk")
    steps = [CurvePoint(*(getattr(one, name) for name in columns), 0, 0, True) for one in points]
    return [CurvePoint(start, 1.0, 1.0, 1.0, steps[0].at_risk, 0, 0, True), *steps] if points[0].at > start else steps


def _axis(answer: BatchPattern) -> str:
    return f"{'play hours' if answer.clock == Clock.HOURS else 'days'} since it was fitted"


def _unit(answer: BatchPattern) -> str:
    return "h" if answer.clock == Clock.HOURS else "days"


def _points(share: float) -> str:
    return f"{share_words(abs(share))} {'more' if share >= 0 else 'fewer'}"
