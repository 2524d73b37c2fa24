"""What a stick costs by the time between cleans: expected cost with its band, that of waiting, and what is about as good."""

from __future__ import annotations

import plotly.graph_objects as go

from pipelines.answers.cleaning_interval_record import IntervalGroup
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import BAND, FAINT, SCREEN, Palette
from pipelines.vocabulary import Clock
from pipelines.wording.costs import amount_words
from pipelines.wording.planned import PER, slot_words
from pipelines.wording.verdict import duration_words

_HEIGHT = 340


def cleaning_cost_figure(
    group: IntervalGroup, *, clock: Clock, currency: str | None, palette: Palette = SCREEN
) -> go.Figure:  # fmt: skip
    """Draw one group that has been weighed."""
    planned, (per, unit) = group.planned, PER[clock]
    figure = framed(palette, height=_HEIGHT)
    at = [one.interval for one in planned.curve]
    low, cost, high = ([per * getattr(one, name) for one in planned.curve] for name in ("low", "cost", "high"))
    waiting = per * planned.waiting.estimate
    figure.add_scatter(
        x=[*at, *at[::-1]], y=[*high, *low[::-1]], fill="toself", fillcolor=palette.line(0) + BAND, mode="lines",
        line={"width": 0}, hoverinfo="skip", showlegend=False, name="band",
    )  # fmt: skip
    figure.add_scatter(
        x=at, y=cost, mode="lines", name="cleaned on a calendar", line={"color": palette.line(0), "width": 2},
        customdata=[_said(one, clock, per, unit, currency) for one in planned.curve],
        hovertemplate="%{customdata}<extra></extra>",
    )  # fmt: skip
    figure.add_scatter(
        x=[at[0], at[-1]], y=[waiting, waiting], mode="lines", name="waiting for faults", hoverinfo="skip",
        line={"color": palette.grey, "width": 2, "dash": "dot"},
    )  # fmt: skip
    if planned.as_good is not None:
        figure.add_vrect(*planned.as_good, fillcolor=palette.line(0) + FAINT, opacity=0.4, line_width=0)
    if group.slot is not None:
        near = min(planned.curve, key=lambda one: abs(one.interval - group.slot.interval))
        figure.add_scatter(
            x=[group.slot.interval], y=[per * near.cost], mode="markers+text", text=[slot_words(group.slot.days)],
            textposition="bottom center", marker={"size": 9, "color": palette.line(0)}, hoverinfo="skip", showlegend=False,
            name="kept as",
        )  # fmt: skip
    clock_words = "play hours" if clock is Clock.HOURS else "days"
    ticks = [step * 10**power for power in range(7) for step in (1, 2, 5) if at[0] <= step * 10**power <= at[-1]]
    figure.update_xaxes(type="log", title=f"{clock_words} from the last clean to a planned one", tickvals=ticks)
    figure.update_xaxes(ticktext=[f"{tick:,}" for tick in ticks])
    of = f", {escaped(currency)}" if currency else ""
    # a very short interval costs many times as much, and would press the rest flat
    top = max(2.2 * waiting, 1.3 * min(cost)) if waiting else max(cost) or 1.0
    figure.update_yaxes(title=f"cost of a stick in {unit}{of}", range=[0, top], tickformat=",.10~g")
    return figure


def _said(point, clock: Clock, per: float, unit: str, currency: str | None) -> str:
    money = f" {currency}" if currency else ""
    ends = f"{amount_words(per * point.low)} to {amount_words(per * point.high)}"
    return escaped(f"after {duration_words(point.interval, clock)}: {amount_words(per * point.cost)}{money} in {unit} ({ends})")
