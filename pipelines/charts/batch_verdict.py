"""Batches against others of their age: one row a batch, its ratio with its interval, the worst on top."""

from __future__ import annotations

import math

import plotly.graph_objects as go

from pipelines.answers.batch_verdict_record import BatchRow, BatchVerdictAnswer
from pipelines.charts.dots import Dot, add_dots, add_rule, dot_figure, row_name
from pipelines.charts.theme import SCREEN, Palette
from pipelines.vocabulary import BatchVerdict
from pipelines.wording import batches as wording
from pipelines.wording.verdict import counted

#: More batches than this no longer fit on a screen.
MOST_BATCHES = 30
_ROW = 26
#: Ratios beyond are drawn at the edge.
_LEAST, _MOST = 1 / 16, 16.0
_TICKS = (1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 8, 16)


def drawn(answer: BatchVerdictAnswer) -> list[BatchRow]:
    """Return the batches with a ratio to draw, the highest on top; of more than MOST_BATCHES those that can be told go first.

    A batch that cannot be told yet and has no failure, or none but its own, has nothing to show.
    """
    told = [
        row for row in answer.batches
        if row.verdict is not None and (row.ratio.estimate or row.verdict is not BatchVerdict.CANNOT_TELL)
    ]  # fmt: skip
    told.sort(key=lambda row: (row.verdict is BatchVerdict.CANNOT_TELL, -_place(row)))
    return sorted(told[:MOST_BATCHES], key=lambda row: -_place(row))


def batches_figure(answer: BatchVerdictAnswer, *, palette: Palette = SCREEN) -> go.Figure:
    """Draw the ratios on a doubling scale; who stands out is filled, who cannot be told yet is grey."""
    rows = drawn(answer)
    figure = dot_figure([row_name(row.batch) for row in rows], palette, row_height=_ROW)
    add_rule(figure, 0.0, palette)
    noticed = answer.settings["batch_ratio"]
    add_rule(figure, math.log2(noticed), palette, dash="dot", name=f"to be noticed: {noticed:g} times")
    accent = palette.line(0)
    for verdicts, name, color, symbol in (
        ((BatchVerdict.WORSE,), "worse", accent, "circle"), ((BatchVerdict.BETTER,), "better", accent, "diamond"),
        ((BatchVerdict.NOT_SHOWN,), "not shown to differ", accent, "circle-open"),
        ((BatchVerdict.CANNOT_TELL,), "cannot tell yet", palette.grey, "circle-open"),
    ):  # fmt: skip
        dots = [_dot(place, row) for place, row in enumerate(rows) if row.verdict in verdicts]
        add_dots(figure, dots, name=name, color=color, symbol=symbol, size=8)
    figure.update_xaxes(
        title="failures, times as often as others at the same age", range=[math.log2(_LEAST) - 0.1, math.log2(_MOST) + 0.1],
        tickvals=[math.log2(tick) for tick in _TICKS], ticktext=["1/16", "1/8", "1/4", "1/2", "1", "2", "4", "8", "16"],
        showgrid=True, zeroline=False,
    )  # fmt: skip
    return figure


def _place(row: BatchRow) -> float:
    """Return where the dot of a batch stands: its ratio; of one without failures the edge, of one with all of them its limit."""
    return row.ratio.estimate or row.ratio.low or _LEAST


def _dot(place: int, row: BatchRow) -> Dot:
    value = _log(_place(row))
    low = _log(row.ratio.low) if row.ratio.low else math.log2(_LEAST)
    high = _log(row.ratio.high) if row.ratio.high else math.log2(_MOST)
    said = (
        row.batch, wording.verdict_word(row.verdict), f"{row.observed:,}, others {wording.expected_words(row.expected)}",
        f"{wording.ratio_words(row.ratio)} times, {wording.span_words(row.ratio)}", counted(row.modules, "module"),
    )  # fmt: skip
    return Dot(place, value, min(low, value), max(high, value), said)


def _log(ratio: float) -> float:
    return math.log2(min(max(ratio, _LEAST), _MOST))
