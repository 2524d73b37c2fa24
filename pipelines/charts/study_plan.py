"""How many modules a study takes by how long it runs, a curve for each ratio; and by how long modules are on test."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.study_plan_record import StudyGroup, StudyPlan
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import Clock
from pipelines.wording.study_plan import modules_words, months_words, times_words
from pipelines.wording.verdict import duration_words

_HEIGHT = 380
_TICKS = [step * 10**power for power in range(6) for step in (1, 2, 5)]


def study_figure(group: StudyGroup, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw modules against months for each ratio of one group, with the limits that the record's law sets."""
    figure = framed(palette, height=_HEIGHT)
    for place, plan in enumerate(group.ratios):
        months = [one.months for one in plan.sizes]
        if plan.sizes and plan.sizes[0].modules.low is not None:
            ends = [[getattr(one.modules, end) for one in plan.sizes] for end in ("high", "low")]
            figure.add_scatter(
                x=[*months, *months[::-1]], y=[*ends[0], *ends[1][::-1]], fill="toself", mode="lines", line={"width": 0},
                fillcolor=palette.band(place, of=len(group.ratios)), hoverinfo="skip", showlegend=False, name="band",
            )  # fmt: skip
        figure.add_scatter(
            x=months, y=[one.modules.estimate for one in plan.sizes], mode="lines", name=f"{times_words(plan.ratio)} as often",
            line={"color": palette.line(place), "width": 2},
            customdata=[escaped(f"{months_words(one.months)}: {modules_words(one.modules)}") for one in plan.sizes],
            hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    figure.update_xaxes(title="months from the first module fitted", rangemode="tozero", dtick=6)
    _modules_axis(figure, [value for plan in group.ratios for one in plan.sizes for value in _ends(one.modules)])
    return figure


def life_test_figure(answer: StudyPlan, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw modules against time on test, a curve for each number of failures allowed."""
    figure, clock = framed(palette, height=_HEIGHT), Clock(answer.clock)
    for place, allowed in enumerate(sorted({one.failures_allowed for one in answer.test.plans})):
        some = [one for one in answer.test.plans if one.failures_allowed == allowed]
        figure.add_scatter(
            x=[one.test_time for one in some], y=[one.module_count for one in some], mode="lines+markers",
            name=f"up to {allowed} may fail" if allowed else "none may fail", line={"color": palette.line(place), "width": 2},
            customdata=[f"{duration_words(one.test_time, clock)}: {one.module_count:,} modules" for one in some],
            hovertemplate="%{customdata}<extra></extra>",
        )  # fmt: skip
    figure.update_xaxes(title=f"{'play hours' if clock is Clock.HOURS else 'days'} on test", rangemode="tozero", tickformat=",")
    _modules_axis(figure, [one.module_count for one in answer.test.plans])
    return figure


def _ends(count) -> list[float]:
    return [one for one in (count.estimate, count.low, count.high) if one is not None]


def _modules_axis(figure: go.Figure, values: list[float]) -> None:
    """Set a logarithmic axis of modules with plain numbers on it."""
    low, high = min(values, default=1), max(values, default=10)
    ticks = [tick for tick in _TICKS if low / 2 <= tick <= high * 2]
    figure.update_yaxes(type="log", title="modules", tickvals=ticks, ticktext=[f"{tick:,}" for tick in ticks])
