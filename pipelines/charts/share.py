"""Cleaning success as dots with their intervals: the same day above, still good at the horizon below it."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from pipelines.answers.record import Answer, CleaningGroup, Durable, SameDay
from pipelines.charts.dots import MOST_ROWS, Dot, add_dots, dot_figure, row_name, share_axis
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import Clock
from pipelines.wording.label import label
from pipelines.wording.verdict import share_words

#: Fewer attempts than this say too little to compare; they are faint.
FEW_ATTEMPTS = 8
_APART = 0.17
_ORDERED = ("attempt_number", "depth")


def share_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw for each group of a cleaning-success answer both shares with their intervals.

    The largest MOST_ROWS groups are drawn, best first (in their own order where they have one).
    """
    groups = shown(answer)
    figure = dot_figure([_row_name(group) for group in groups], palette)
    durable = groups[0].durable if groups else None
    _dots(figure, groups, "same_day", "passed the same day", palette, symbol="circle", shift=-_APART)
    if durable:
        name = f"still good after {durable.horizon:g} {'play hours' if durable.unit == Clock.HOURS else 'days'}"
        _dots(figure, groups, "durable", name, palette, symbol="circle-open", shift=_APART)
    share_axis(figure, "share of all cleaning attempts")
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
    is_named = True
    for is_few in (False, True):
        dots = [
            Dot(place, one.share, one.low, one.high, _said(group, one))
            for place, group in enumerate(groups)
            for one in [getattr(group, part)]
            if (group.same_day.n < FEW_ATTEMPTS) is is_few and one.share is not None
        ]
        color = palette.faint(0) if is_few else palette.line(0)
        add_dots(figure, dots, name=name, color=color, symbol=symbol, shift=shift, is_named=is_named)
        is_named = is_named and not dots


def _said(group: CleaningGroup, one: SameDay | Durable) -> tuple[str, ...]:
    limits = "" if one.low is None or one.high is None else f" ({share_words(one.low)} to {share_words(one.high)})"
    count = f"{one.k:,} of {one.n:,}" if isinstance(one, SameDay) else f"{group.same_day.n:,} attempts"
    return label(group.by), f"{share_words(one.share)}{limits}", count


def _row_name(group: CleaningGroup) -> str:
    few = ["too few to say"] if group.same_day.n < FEW_ATTEMPTS else []
    return row_name(label(group.by), *few, count=group.same_day.n)
