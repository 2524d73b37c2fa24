"""Two values of each group beside each other: what it shows plainly in grey, and what another way of looking makes of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import plotly.graph_objects as go

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
    plain: Estimate
    other: Estimate
    more: tuple[str, ...] = ()


def pooled_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw each group alone and judged together with the others, with its rank; the best first, MOST_ROWS at most."""
    return _figure(answer, _pooled(answer)[:MOST_ROWS], "pooled", ("judged together", "alone"), palette)


def undrawn(answer: Answer) -> int:
    """Return how many groups the pooled figure leaves out because there are more than MOST_ROWS."""
    return max(len(_pooled(answer)) - MOST_ROWS, 0)


def controller_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw each group with its plain limits, and with limits that take the sticks of a controller together."""
    rows = _clusters(answer, "by_controller")[:MOST_ROWS]
    return _figure(answer, rows, "by_controller", ("limits by controller", "limits by stick"), palette)


def site_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw each group with its plain limits, and with limits that take all that happened at a site together."""
    return _figure(answer, _clusters(answer, "by_site")[:MOST_ROWS], "by_site", ("limits by site", "limits by stick"), palette)


def survivor_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the share of each group still good at the age that is set, by the curve and by a Weibull law; the best first."""
    found = [(group, group.surviving_at) for group in answer.groups if group.surviving_at is not None]
    rows = [_Row(label(group.by), part.at_risk, part.weibull, part.curve) for group, part in found]
    age = duration_words(found[0][1].age, Clock(answer.clock)) if found else ""
    return _shares(_given(rows)[:MOST_ROWS], ("by the curve", "by a Weibull law"), f"still good at {age}", palette)


def standardised_figure(answer: Answer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the same-day share of each group as it was, and as it had been if all failures had been cleaned."""
    rows = [
        _Row(label(group.by), part.tried, _same_day(group), part.standardised) for group, part in _parts(answer, "standardised")
    ]
    return _figure(answer, _given(rows)[:MOST_ROWS], "standardised", ("had all been cleaned", "as cleaned"), palette)


def has_rows(answer: Answer, part: str) -> bool:
    """Tell whether a figure of this part (`pooled`, `by_controller`, `by_site` or `standardised`) has anything to draw."""
    return any(True for _ in _parts(answer, part))


def _parts(answer: Answer, name: str) -> Iterable[tuple[CleaningGroup | LifeGroup, object]]:
    """Return the groups with a part of this name that was not refused."""
    for group in answer.groups:
        part = getattr(group, name)
        if part is not None and part.because is None:
            yield group, part


def _pooled(answer: Answer) -> list[_Row]:
    rows = []
    for group, part in _parts(answer, "pooled"):
        if isinstance(group, CleaningGroup):
            rows.append(_Row(label(group.by), group.same_day.n, _same_day(group), part.same_day, _rank(part.place)))
        else:
            rows.append(_life(group, part, _measure(answer, "pooled"), _rank(part.place)))
    return _given(rows)


def _clusters(answer: Answer, name: str) -> list[_Row]:
    return _given([
        _Row(label(group.by), group.same_day.n, _same_day(group), part.share) if isinstance(group, CleaningGroup)
        else _life(group, part, _measure(answer, name))
        for group, part in _parts(answer, name)
    ])  # fmt: skip


def _given(rows: Sequence[_Row]) -> list[_Row]:
    return sorted((row for row in rows if row.other.estimate is not None), key=lambda row: -row.other.estimate)


def _life(group: LifeGroup, part, measure: str, more: tuple[str, ...] = ()) -> _Row:
    return _Row(label(group.by), group.counts["failures"], group.curve_quantiles[measure], getattr(part, measure), more)


def _same_day(group: CleaningGroup) -> Estimate:
    return Estimate(group.same_day.share, group.same_day.low, group.same_day.high, group.same_day.because)


def _measure(answer: Answer, name: str) -> str:
    """Return which life to compare: `median`, or `b10` where some group's median is not given."""
    return "median" if all(part.median.estimate is not None for _, part in _parts(answer, name)) else "b10"


def _rank(place) -> tuple[str, ...]:
    if place.rank is None:
        return ()
    is_range = place.low is not None and place.high is not None and place.low != place.high
    return (f"rank {place.low} to {place.high}" if is_range else f"rank {place.rank}",)


def _figure(
    answer: Answer, rows: Sequence[_Row], part: str, names: tuple[str, str], palette: Palette
) -> go.Figure:  # fmt: skip
    if answer.groups and isinstance(answer.groups[0], CleaningGroup):
        return _shares(rows, names, "passed the same day", palette)
    figure = _dots(rows, names, lambda value: duration_words(value, Clock(answer.clock)), palette)
    if rows:
        _time_axis(figure, rows, answer, _measure(answer, part))
    return figure


def _shares(rows: Sequence[_Row], names: tuple[str, str], title: str, palette: Palette) -> go.Figure:
    figure = _dots(rows, names, share_words, palette)
    share_axis(figure, title)
    return figure


def _dots(rows: Sequence[_Row], names: tuple[str, str], say: Callable[[float], str], palette: Palette) -> go.Figure:
    figure = dot_figure([row_name(row.name, *row.more, count=row.count) for row in rows], palette)
    for which, name, color, symbol, shift in (
        ("other", names[0], palette.line(0), "circle", -_APART), ("plain", names[1], palette.grey, "circle-open", _APART),
    ):  # fmt: skip
        dots = [
            Dot(place, one.estimate, one.low, one.high, (row.name, f"{name}: {say(one.estimate)}", _limits(one, say)))
            for place, row in enumerate(rows)
            for one in [getattr(row, which)]
            if one.estimate is not None
        ]
        add_dots(figure, dots, name=name, color=color, symbol=symbol, shift=shift)
    return figure


def _limits(one: Estimate, say) -> str:
    return limits_words(one.low, one.high, say)


def _time_axis(figure: go.Figure, rows: Sequence[_Row], answer: Answer, measure: str) -> None:
    """Let the axis hold all dots and the intervals in colour; a wider interval in grey ends at the edge."""
    reached = [value for row in rows for value in (row.other.estimate, row.other.high, row.plain.estimate) if value]
    longest = max(reached, default=1.0)
    part = "half drift by" if measure == "median" else "one in ten drift by"
    clock = "play hours" if answer.clock == Clock.HOURS else "days"
    figure.update_xaxes(
        range=[-0.02 * longest, 1.04 * longest], tickvals=nice_ticks(longest), zeroline=False, showgrid=True,
        title=f"{part}, {clock}",
    )  # fmt: skip
