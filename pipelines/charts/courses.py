"""What each course costs for one stick: a bar a course, the advised one in full colour; cleaning first by depth."""

from __future__ import annotations

from dataclasses import dataclass

import plotly.graph_objects as go

from pipelines.answers.clean_or_replace_record import CleanOrReplace
from pipelines.charts.dots import dot_figure, row_name
from pipelines.charts.frame import escaped
from pipelines.charts.theme import FAINT, SCREEN, Palette
from pipelines.vocabulary import Course
from pipelines.wording.bench import course_words
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import value_words

_ROW = 40


@dataclass(frozen=True)
class Bar:
    """A course with its expected cost. more: the depth of clean, in words; blank for the others."""

    course: Course
    more: str
    cost: float
    is_advised: bool


def course_bars(answer: CleanOrReplace) -> list[Bar]:
    """Return the courses that could be weighed, the cheapest first."""
    bars = [
        Bar(Course.CLEAN_FIRST, value_words("depth", one.depth) if one.depth else "", one.expected_cost,
            answer.course is Course.CLEAN_FIRST and one.depth == answer.depth)
        for one in answer.depths if one.expected_cost is not None
    ]  # fmt: skip
    bars += [
        Bar(Course(course), "", cost, answer.course == course)
        for course, cost in answer.expected_cost.items()
        if course != Course.CLEAN_FIRST
    ]
    return sorted(bars, key=lambda bar: bar.cost)


def course_figure(answer: CleanOrReplace, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the expected cost of each course as bars from 0."""
    bars = course_bars(answer)
    figure = dot_figure([row_name(course_words(one.course), *([escaped(one.more)] if one.more else [])) for one in bars],
                        palette, row_height=_ROW)  # fmt: skip
    said = [money_words(one.cost, answer.currency) for one in bars]
    figure.add_bar(
        x=[one.cost for one in bars], y=list(range(len(bars))), orientation="h", width=0.55, showlegend=False, name="",
        marker={"color": [palette.line(0) if one.is_advised else palette.line(0) + FAINT for one in bars], "line": {"width": 0}},
        text=[escaped(one) for one in said], textposition="outside", cliponaxis=False, hoverinfo="skip",
    )  # fmt: skip
    unit = f", {escaped(answer.currency)}" if answer.currency else ""
    longest = max((one.cost for one in bars), default=0.0) or 1.0
    figure.update_xaxes(
        zeroline=True, showgrid=True, nticks=6, range=[0, longest * 1.4], title=f"expected cost of one stick{unit}"
    )
    return figure
