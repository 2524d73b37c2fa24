"""What goes with failing sooner: the ratio of each level to its reference, on a log axis."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log2, log10

import plotly.graph_objects as go

from pipelines.answers.factors_record import FactorGroup, LevelRatio
from pipelines.charts.dots import Dot, add_dots, add_rule, dot_figure, row_name
from pipelines.charts.theme import SCREEN, Palette
from pipelines.wording.verdict import column_words, counted, limits_words, value_words

#: More rows than this no longer fit on a screen; the table holds them all.
MOST_LEVELS = 40
_ROW = 30
#: Ratios beyond this, either way, are cut at the edge.
_FAR = 4


def factor_figure(group: FactorGroup, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw how many times as often each level fails at the same age as its reference; limits beyond 16 times are cut."""
    rows = _rows(shown(group))
    figure = dot_figure([_name(row) for row in rows], palette, row_height=_ROW)
    for is_reference, color, symbol in ((False, palette.line(0), "circle"), (True, palette.grey, "circle-open")):
        dots = [
            Dot(place, row.hazard_ratio.estimate or 1.0, row.hazard_ratio.low, row.hazard_ratio.high, _said(row))
            for place, row in enumerate(rows)
            if isinstance(row, LevelRatio) and row.is_reference is is_reference
        ]
        add_dots(figure, dots, name="compared with" if is_reference else "this level", color=color, symbol=symbol)
    add_rule(figure, 1.0, palette)
    _axis(figure, rows)
    return figure


def shown(group: FactorGroup) -> list[LevelRatio]:
    """Return the levels that the figure draws: the references, and those with a ratio."""
    return [one for one in group.ratios if one.is_reference or one.hazard_ratio.estimate is not None][:MOST_LEVELS]


def _rows(ratios: Sequence[LevelRatio]) -> list[LevelRatio | str]:
    """Return the levels, with the name of each factor before its own."""
    rows, factor = [], None
    for ratio in ratios:
        if ratio.factor != factor:
            factor = ratio.factor
            rows.append(factor)
        rows.append(ratio)
    return rows


def _name(row: LevelRatio | str) -> str:
    if isinstance(row, str):
        return f"<b>{column_words(row)}</b>"
    return row_name(value_words(row.factor, row.level), count=row.failures)


def _said(row: LevelRatio) -> tuple[str, ...]:
    name = f"{column_words(row.factor)} {value_words(row.factor, row.level)}"
    count = f"{row.failures:,} of {counted(row.spells, 'spell')} failed"
    if row.is_reference:
        return name, "the others are compared with it", count
    ratio = row.hazard_ratio
    return name, f"{ratio.estimate:.2f} times as often ({limits_words(ratio.low, ratio.high, '{:.2f}'.format)})", count


def _axis(figure: go.Figure, rows: Sequence[LevelRatio | str]) -> None:
    """Let the axis hold all intervals, in doublings either way of 1, and say what each side means."""
    estimates = [row.hazard_ratio for row in rows if isinstance(row, LevelRatio) and not row.is_reference]
    reached = [value for one in estimates for value in (one.estimate, one.low, one.high) if value]
    low, high = (min([*reached, 0.5]), max([*reached, 2.0]))
    first, last = max(floor(log2(low)), -_FAR), min(ceil(log2(high)), _FAR)
    step = 1 if last - first <= _FAR + 1 else 2
    ticks = [2.0**power for power in range(first, last + 1) if power % step == 0]
    figure.update_xaxes(
        type="log", range=[first * log10(2) - 0.05, last * log10(2) + 0.05], tickvals=ticks,
        ticktext=[_times(tick) for tick in ticks], zeroline=False, showgrid=True,
        title="times as often as the one compared with,<br>at the same age",
    )  # fmt: skip
    figure.update_layout(showlegend=False, margin_t=30)
    for words, anchor, shift in (("← drifts later", "right", -6), ("drifts sooner →", "left", 6)):
        figure.add_annotation(
            text=words, x=0, xref="x", xanchor=anchor, xshift=shift, y=1, yref="paper", yanchor="bottom", showarrow=False,
            font_size=12,
        )  # fmt: skip


def _times(tick: float) -> str:
    return f"{tick:g}" if tick >= 1 else f"1/{1 / tick:g}"
