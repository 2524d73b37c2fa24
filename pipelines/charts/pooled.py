"""Small groups judged together: what each shows alone in grey, and with what it borrows from the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import plotly.graph_objects as go

from pipelines.answers.detail import Place
from pipelines.answers.record import Answer, CleaningGroup, LifeGroup
from pipelines.charts.dots import MOST_ROWS, Dot, add_dots, dot_figure, row_name, share_axis
from pipelines.charts.frame import nice_ticks
from pipelines.charts.theme import SCREEN, Palette
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Clock
from pipelines.wording.label import label
from pipelines.wording.verdict import duration_words, limits_words, share_words

_APART = 0.17


@dataclass(frozen=True)
class _Row:
    name: str
    count: int
    alone: Estimate
    pooled: Estimate
    place: Place


def pooled_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw each group's own value and its pooled one, the best first, and its rank with its limits; MOST_ROWS at most."""
    rows = _rows(answer)[:MOST_ROWS]
    is_share = _is_share(answer)
    figure = dot_figure([row_name(row.name, *_rank(row.place), count=row.count) for row in rows], palette)

    def say(value: float) -> str:
        return share_words(value) if is_share else duration_words(value, Clock(answer.clock))

    for part, name, color, symbol, shift in (
        ("pooled", "judged together", palette.line(0), "circle", -_APART),
        ("alone", "alone", palette.grey, "circle-open", _APART),
    ):
        dots = [
            Dot(place, one.estimate, one.low, one.high, (row.name, f"{name}: {_said(one, say)}"))
            for place, row in enumerate(rows)
            for one in [getattr(row, part)]
            if one.estimate is not None
        ]
        add_dots(figure, dots, name=name, color=color, symbol=symbol, shift=shift)
    if is_share:
        share_axis(figure, "passed the same day")
    else:
        _time_axis(figure, rows, answer)
    return figure


def undrawn(answer: Answer) -> int:
    """Return how many groups the figure leaves out because there are more than MOST_ROWS."""
    return max(len(_rows(answer)) - MOST_ROWS, 0)


def measure(answer: Answer) -> str:
    """Return which life the figure compares: `median`, or `b10` where some group's pooled median is not given."""
    pooled = [group.pooled for group in answer.groups if group.pooled is not None and group.pooled.because is None]
    return "median" if all(one.median.estimate is not None for one in pooled) else "b10"


def _rows(answer: Answer) -> list[_Row]:
    rows = [
        _cleaning(group) if _is_share(answer) else _life(group, measure(answer))
        for group in answer.groups
        if group.pooled is not None and group.pooled.because is None
    ]
    return sorted((row for row in rows if row.pooled.estimate is not None), key=lambda row: -row.pooled.estimate)


def _cleaning(group: CleaningGroup) -> _Row:
    same_day = group.same_day
    alone = Estimate(same_day.share, same_day.low, same_day.high, same_day.because)
    return _Row(label(group.by), same_day.n, alone, group.pooled.same_day, group.pooled.place)


def _life(group: LifeGroup, name: str) -> _Row:
    alone = group.curve_quantiles[name]
    return _Row(label(group.by), group.counts["failures"], alone, getattr(group.pooled, name), group.pooled.place)


def _is_share(answer: Answer) -> bool:
    return bool(answer.groups) and isinstance(answer.groups[0], CleaningGroup)


def _rank(place: Place) -> list[str]:
    if place.rank is None:
        return []
    is_range = place.low is not None and place.high is not None and place.low != place.high
    return [f"rank {place.low} to {place.high}" if is_range else f"rank {place.rank}"]


def _said(one: Estimate, say) -> str:
    return f"{say(one.estimate)} ({limits_words(one.low, one.high, say)})"


def _time_axis(figure: go.Figure, rows: Sequence[_Row], answer: Answer) -> None:
    """Let the axis hold the pooled intervals and all dots; a wider interval of a group alone ends at the edge."""
    reached = [value for row in rows for value in (row.pooled.estimate, row.pooled.high, row.alone.estimate) if value]
    longest = max(reached, default=1.0)
    part = "half drift by" if measure(answer) == "median" else "one in ten drift by"
    clock = "play hours" if answer.clock == Clock.HOURS else "days"
    figure.update_xaxes(
        range=[-0.02 * longest, 1.04 * longest], tickvals=nice_ticks(longest), zeroline=False, showgrid=True,
        title=f"{part}, {clock}",
    )  # fmt: skip
