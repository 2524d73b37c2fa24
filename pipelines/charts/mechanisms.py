"""Which fault ends how many by what age: the mechanisms of one group, competing."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.record import Answer, LifeGroup
from pipelines.charts.frame import age_axis, unit
from pipelines.charts.steps import Curve, Look, largest, step_figure
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.verdict import value_words

#: More mechanisms than this cannot be told apart, or named beside their curves.
MOST_CURVES = 6


def mechanism_figure(answer: Answer, group: LifeGroup, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the share failed of each mechanism of a group, the most frequent MOST_CURVES, named at their ends."""
    curves = shown(group)
    look = Look(
        height="failed_share", what="share drifted, by what was found", axis=age_axis(answer), unit=unit(answer), top=None,
        is_rising=True, has_one_risk_set=True,
    )  # fmt: skip
    return step_figure(curves, look, palette)


def shown(group: LifeGroup) -> list[Curve]:
    """Return the curves that the figure draws, the most frequent mechanism first."""
    curves = [
        Curve(value_words("mechanism", None if one.mechanism == "not_recorded" else one.mechanism), one.curve, one.failures)
        for one in group.by_mechanism or ()
        if one.curve and one.failures
    ]
    return largest(sorted(curves, key=lambda curve: -curve.count), MOST_CURVES)
