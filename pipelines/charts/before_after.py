"""Mean faults of a controller since each side of a programme's start began: before, and after."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.before_after_record import BeforeAfter
from pipelines.charts.steps import Curve, Look, step_figure
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import Clock


def before_after_figure(answer: BeforeAfter, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw both mean counts of the units in the programme with their limits."""
    is_hours = answer.clock == Clock.HOURS
    look = Look(
        height="mean_count", what="faults per controller so far, on average", unit="h" if is_hours else "days",
        tickformat=".2~f", top=None,
        axis=f"{'play hours' if is_hours else 'days'} since the side began", is_rising=True,
    )  # fmt: skip
    counts, units = answer.mean_counts, answer.watched.units
    return step_figure([Curve("before", counts.before, units), Curve("after", counts.after, units)], look, palette)


def has_curves(answer: BeforeAfter) -> bool:
    """Tell whether there is anything to draw."""
    return any(point.failed for points in (answer.mean_counts.before, answer.mean_counts.after) for point in points)
