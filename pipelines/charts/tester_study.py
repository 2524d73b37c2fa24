"""The study of the tester: what the spread of readings is made of, and how a stick near the limit fares."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.tester_study_record import TesterStudy
from pipelines.charts.dots import Dot, add_dots, dot_figure, row_name
from pipelines.charts.frame import framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.tester_study import estimate_words, measure_words, part_words, unit_words
from pipelines.wording.verdict import level_words

#: The parts that are drawn: those of the tester, all of it, and the sticks beside it.
SHOWN = ("repeat", "between_persons", "tester", "stick")
_HEIGHT = 340


def parts_figure(answer: TesterStudy, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the standard deviations of the tester's parts, and in grey of the sticks."""
    shown = [one for name in SHOWN for one in answer.components if one.name == name]
    figure = dot_figure([row_name(part_words(one.name)) for one in shown], palette)
    for is_stick, name, color, symbol in (
        (False, "the tester", palette.line(0), "circle"), (True, "the sticks", palette.grey, "circle-open"),
    ):  # fmt: skip
        dots = [
            Dot(row, one.sd.estimate, one.sd.low, one.sd.high, (part_words(one.name), estimate_words(one.sd)))
            for row, one in enumerate(shown)
            if (one.name == "stick") is is_stick
        ]
        add_dots(figure, dots, name=name, color=color, symbol=symbol)
    figure.update_xaxes(
        title=f"standard deviation, {unit_words(answer.case.measure)}", rangemode="tozero", showgrid=True, zeroline=False
    )
    return figure


def pass_figure(answer: TesterStudy, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the chance that one reading passes a stick, by its true value; dotted: a tester without error."""
    points, case = answer.at_limit.curve, answer.case
    at, color = [one.true_value for one in points], palette.line(0)
    figure = framed(palette, height=_HEIGHT)
    limits = {"mode": "lines", "hoverinfo": "skip", "line": {"width": 0, "color": color}}
    figure.add_scatter(x=at, y=[one.low for one in points], showlegend=False, **limits)
    figure.add_scatter(x=at, y=[one.high for one in points], fill="tonexty", fillcolor=palette.band(0, of=1),
                       name=f"{level_words(answer.level)} interval", **limits)  # fmt: skip
    figure.add_scatter(
        x=at, y=[one.pass_chance for one in points], mode="lines", line={"color": color, "width": 2.2}, name="chance to pass",
        hovertemplate="truly %{x:.2f}: passes in %{y:.0%}<extra></extra>",
    )  # fmt: skip
    ends = [1, 1, 0, 0] if case.is_upper else [0, 0, 1, 1]
    figure.add_scatter(x=[at[0], case.limit, case.limit, at[-1]], y=ends, mode="lines", name="without any error",
                       hoverinfo="skip", line={"color": palette.grey, "width": 1, "dash": "dot"})  # fmt: skip
    figure.update_yaxes(tickformat=".0%", range=[-0.03, 1.03], zeroline=False)
    figure.update_xaxes(zeroline=False, showgrid=False, title=f"true {measure_words(case.measure)}, "
                        f"{unit_words(case.measure)}; limit {case.limit:g}")  # fmt: skip
    return figure
