"""Cleaning success as dots with their intervals: the same day above, still good at the horizon below it."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

import plotly.graph_objects as go

from pipelines.answers.record import Answer, CleaningGroup, Durable, SameDay
from pipelines.charts.frame import escaped, framed
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import Clock
from pipelines.wording.label import label
from pipelines.wording.verdict import share_words

#: More rows than this no longer fit on a screen.
MOST_ROWS = 16
#: Fewer attempts than this say too little to compare; they are faint.
FEW_ATTEMPTS = 8
_ROW, _LINE, _APART = 46, 16, 0.17
_ORDERED = ("attempt_number", "depth")


def share_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw for each group of a cleaning-success answer both shares with their intervals.

    The largest MOST_ROWS groups are drawn, best first (in their own order where they have one).
    """
    groups = shown(answer)
    names = [_row_name(group) for group in groups]
    lines = max((name.count("<br>") + 1 for name in names), default=1)
    figure = framed(palette, height=110 + max(_ROW, _LINE * lines + 8) * max(len(groups), 1))
    durable = groups[0].durable if groups else None
    _dots(figure, groups, "same_day", "passed the same day", palette, symbol="circle", shift=-_APART)
    if durable:
        name = f"still good after {durable.horizon:g} {'play hours' if durable.unit == Clock.HOURS else 'days'}"
        _dots(figure, groups, "durable", name, palette, symbol="circle-open", shift=_APART)
    figure.update_xaxes(range=[-0.02, 1.02], tickformat=".0%", zeroline=False, showgrid=True, tickvals=[0, 0.25, 0.5, 0.75, 1])
    figure.update_yaxes(
        range=[len(groups) - 0.5, -0.5], tickvals=list(range(len(groups))), zeroline=False, showgrid=False,
        ticktext=names,
    )  # fmt: skip
    figure.update_xaxes(title="share of all cleaning attempts")
    return figure


def undrawn(answer: Answer) -> int:
    """Return how many groups the figure leaves out because there are more than MOST_ROWS."""
    return len(_tried(answer)) - len(shown(answer))


def shown(answer: Answer) -> list[CleaningGroup]:
    """Return the groups that the figure draws, from the top down."""
    tried = _tried(answer)
    largest = sorted(range(len(tried)), key=lambda place: -tried[place].same_day.n)[:MOST_ROWS]
    groups = [tried[place] for place in sorted(largest)]
    if answer.by and all(column in _ORDERED for column in answer.by):
        return groups
    return sorted(groups, key=lambda group: -group.same_day.share)


def _tried(answer: Answer) -> list[CleaningGroup]:
    return [group for group in answer.groups if group.same_day.share is not None]


def _dots(
    figure: go.Figure, groups: Sequence[CleaningGroup], part: str, name: str, palette: Palette, *, symbol: str, shift: float
) -> None:
    is_named = False
    for is_few in (False, True):
        rows = [
            (place, group, getattr(group, part))
            for place, group in enumerate(groups)
            if (group.same_day.n < FEW_ATTEMPTS) is is_few and getattr(group, part).share is not None
        ]
        if not rows:
            continue
        shares = [one.share for _, _, one in rows]
        color = palette.faint(0) if is_few else palette.line(0)
        figure.add_trace(go.Scatter(
            x=shares, y=[place + shift for place, _, _ in rows], mode="markers", name=name, legendgroup=part,
            showlegend=not is_named, marker={"symbol": symbol, "size": 10, "color": color, "line": {"width": 2, "color": color}},
            error_x={
                "type": "data", "symmetric": False, "color": color, "thickness": 1.8, "width": 0,
                "array": [_reach(one.share, one.high) for _, _, one in rows],
                "arrayminus": [_reach(one.low, one.share) for _, _, one in rows],
            },
            customdata=[_hover(group, one) for _, group, one in rows],
            hovertemplate="%{customdata}<extra></extra>",
        ))  # fmt: skip
        is_named = True


def _reach(low: float | None, high: float | None) -> float:
    """Return the length of one side of an interval; a limit that is not known is not drawn."""
    return 0.0 if low is None or high is None else max(high - low, 0.0)


def _hover(group: CleaningGroup, one: SameDay | Durable) -> str:
    limits = "" if one.low is None or one.high is None else f" ({share_words(one.low)} to {share_words(one.high)})"
    count = f"{one.k:,} of {one.n:,}" if isinstance(one, SameDay) else f"{group.same_day.n:,} attempts"
    return f"{escaped(label(group.by))}<br>{share_words(one.share)}{limits}<br>{count}"


def _row_name(group: CleaningGroup) -> str:
    lines = wrap(label(group.by), 16, max_lines=3, placeholder=" …") or [" "]
    few = "<br>too few to say" if group.same_day.n < FEW_ATTEMPTS else ""
    return "<br>".join(escaped(line) for line in lines) + f" ({group.same_day.n:,}){few}"
