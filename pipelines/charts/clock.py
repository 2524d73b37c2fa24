"""Hours or days: where between the two clocks the lives stand."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.detail import ClockQuestion
from pipelines.charts.dots import Dot, add_dots, add_rule, dot_figure
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.verdict import limits_words

#: The coefficients that stand for each clock.
_HOURS, _DAYS = -1.0, 0.0


def clock_figure(part: ClockQuestion, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the usage coefficient with its interval between −1, life goes by hours, and 0, by days."""
    figure = dot_figure([" "], palette)
    one = part.coefficient
    reached = [value for value in (one.estimate, one.low, one.high) if value is not None]
    if one.estimate is not None:
        said = f"power of the hours a day: {one.estimate:.2f} ({limits_words(one.low, one.high, '{:.2f}'.format)})"
        add_dots(figure, [Dot(0, one.estimate, one.low, one.high, (said,))], name=" ", color=palette.line(0))
    for at in (_HOURS, _DAYS):
        add_rule(figure, at, palette, dash="dot")
    low, high = min([*reached, _HOURS]), max([*reached, _DAYS])
    figure.update_xaxes(
        range=[max(low, -3.0) - 0.3, min(high, 2.0) + 0.3], tickvals=[_HOURS, _DAYS], zeroline=False, showgrid=False,
        ticktext=["by play hours<br>(−1)", "by days<br>(0)"],
    )  # fmt: skip
    figure.update_layout(showlegend=False)
    return figure
