"""Survival curves of a time-to-failure or recurrence answer."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.record import Answer, LifeGroup, LifePart
from pipelines.charts.frame import age_axis, group_name, legend_title, unit
from pipelines.charts.steps import Curve, Look, largest, step_figure
from pipelines.charts.theme import SCREEN, Palette

#: More than this many curves cannot be told apart.
MOST_CURVES = 8


def survival_figure(answer: Answer, *, is_age_known: bool = True, palette: Palette = SCREEN) -> go.Figure:
    """Draw one step curve per group.

    is_age_known: False draws the modules of unknown age, from when they were first seen. Where too few were at risk
    the line is faint and has no band. The largest MOST_CURVES groups are drawn; `undrawn` counts the others.
    """
    look = Look(
        height="surviving_share", what="share still free of drift", unit=unit(answer),
        axis=age_axis(answer) if is_age_known else age_axis(answer).replace("in service", "since first seen"),
        legend_title=legend_title(answer), has_legend=bool(answer.by),
    )  # fmt: skip
    return step_figure(shown(answer, is_age_known=is_age_known), look, palette)


def undrawn(answer: Answer, *, is_age_known: bool = True) -> int:
    """Return how many groups have a curve that the figure leaves out because there are more than MOST_CURVES."""
    return max(len(_curves(answer, is_age_known)) - MOST_CURVES, 0)


def shown(answer: Answer, *, is_age_known: bool = True) -> list[Curve]:
    """Return the curves that the figure draws: the largest, in the answer's order."""
    return largest(_curves(answer, is_age_known), MOST_CURVES)


def _curves(answer: Answer, is_age_known: bool) -> list[Curve]:
    found = []
    for group in answer.groups:
        part: LifeGroup | LifePart | None = group if is_age_known else group.since_first_seen
        if part is not None and part.curve:
            found.append(Curve(group_name(group.by), part.curve, part.counts["spells"]))
    return found
