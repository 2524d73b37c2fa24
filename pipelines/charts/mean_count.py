"""How many failures a controller has had by what age, on average."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.record import Answer
from pipelines.charts.frame import group_name, legend_title, unit
from pipelines.charts.steps import Curve, Look, largest, step_figure
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import Clock

#: More than this many curves cannot be told apart.
MOST_CURVES = 8


def mean_count_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the mean count of each group of a recurrence answer, the largest MOST_CURVES."""
    clock = "play hours" if answer.clock == Clock.HOURS else "days"
    look = Look(
        height="mean_count", what="failures per controller so far, on average", axis=f"{clock} since the controller was new",
        unit=unit(answer), tickformat=".2~f", top=None, is_rising=True, legend_title=legend_title(answer),
        has_legend=bool(answer.by),
    )  # fmt: skip
    return step_figure(shown(answer), look, palette)


def shown(answer: Answer) -> list[Curve]:
    """Return the curves that the figure draws."""
    return largest([
        Curve(group_name(group.by), group.mean_cumulative.curve, group.mean_cumulative.units)
        for group in answer.groups
        if group.mean_cumulative is not None and group.mean_cumulative.curve
    ], MOST_CURVES)  # fmt: skip
