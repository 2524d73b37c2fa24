"""The figures of an evidence pack, drawn still, as SVG: a page of them asks nobody for anything, and prints."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable
from threading import Lock

from pipelines.answers.batch_alarm_record import BatchAlarm
from pipelines.answers.batch_pattern_record import BatchPattern
from pipelines.answers.batch_verdict_record import BatchRow, BatchVerdictAnswer
from pipelines.charts.batch_alarm import LEAST
from pipelines.charts.batch_pattern import rest_words
from pipelines.charts.batch_verdict import drawn
from pipelines.charts.theme import PRINT
from pipelines.vocabulary import Clock

_WIDTH = 7.4
_ACCENT, _GREY = PRINT.line(0), PRINT.grey
#: The same drawing gives the same bytes, text stays text, and a name is never read as a formula.
_STYLE = {
    "svg.hashsalt": "stickfleet", "svg.fonttype": "none", "text.parse_math": False, "font.family": "sans-serif", "font.size": 9,
    "axes.spines.top": False, "axes.spines.right": False, "text.color": PRINT.ink, "axes.labelcolor": PRINT.ink,
    "xtick.color": PRINT.ink, "ytick.color": PRINT.ink, "legend.frameon": False,
}  # fmt: skip
_LEAST, _MOST = 1 / 16, 16.0
#: The style is that of the whole process while a figure is drawn.
_DRAWING = Lock()


def batches_svg(answer: BatchVerdictAnswer, batch: str) -> bytes | None:
    """Draw the ratios of the batches with their limits on a doubling scale, the worst on top; None where there is none."""
    rows = drawn(answer)
    if batch not in {row.batch for row in rows}:
        rows += [row for row in answer.batches if row.batch == batch and row.ratio.estimate]
    if not rows:
        return None

    def draw(figure) -> None:
        axes = figure.subplots()
        for place, row in enumerate(reversed(rows)):
            low, at, high = _ends(row)
            colour = _ACCENT if row.batch == batch else _GREY
            axes.plot([low, high], [place, place], color=colour, linewidth=2.4 if row.batch == batch else 1.2)
            if row.ratio.estimate:
                axes.plot([at], [place], "o", color=colour, markersize=6 if row.batch == batch else 4)
        axes.set_yticks(range(len(rows)), [row.batch for row in reversed(rows)])
        for label, row in zip(axes.get_yticklabels(), reversed(rows), strict=True):
            label.set_fontweight("bold" if row.batch == batch else "normal")
        axes.axvline(1.0, color=PRINT.ink, linewidth=0.8)
        axes.set_xscale("log", base=2)
        axes.set_xlim(_LEAST * 0.95, _MOST * 1.05)
        axes.set_xticks([1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 8, 16], ["1/16", "1/8", "1/4", "1/2", "1", "2", "4", "8", "16"])
        axes.set_xlabel("failures, times as often as others at the same age")

    return _svg(draw, 0.8 + 0.19 * len(rows))


def curves_svg(answer: BatchPattern) -> bytes | None:
    """Draw the shares still free of failure of the batch and of the rest made alike, with limits; None where there are none."""
    points = answer.curves.points
    if not points:
        return None

    def draw(figure) -> None:
        axes, start = figure.subplots(), answer.curves.counted_from or 0.0
        ages = [start, *(one.at for one in points)]
        for name, side, colour in ((answer.batch, "batch", _ACCENT), (rest_words(answer), "rest", _GREY)):
            share, low, high = ([1.0, *(getattr(one, f"{side}{end}") for one in points)] for end in ("", "_low", "_high"))
            axes.fill_between(ages, low, high, step="post", color=colour, alpha=0.17, linewidth=0)
            axes.step(ages, share, where="post", color=colour, linewidth=1.8, label=name)
        axes.set_ylim(0, 1.02)
        axes.set_xlim(left=0)
        axes.set_ylabel("share still free of failure")
        axes.set_xlabel(f"{'play hours' if answer.clock == Clock.HOURS else 'days'} since it was fitted")
        axes.legend(loc="lower left")

    return _svg(draw, 3.0)


def alarm_svg(answer: BatchAlarm, batch: str) -> bytes | None:
    """Draw the evidence against the batch look by look, with both limits and alarms; None where the batch is not watched."""
    if answer.shown != batch or not answer.looks:
        return None

    def draw(figure) -> None:
        axes = figure.subplots()
        told = next(one for one in answer.batches if one.batch == batch)
        days = [dt.date.fromisoformat(one.on) for one in answer.looks]
        axes.plot(days, [max(one.evidence, LEAST) for one in answer.looks], color=_ACCENT, linewidth=1.8)
        for name, limit, at in (("watch it", answer.watch_limit, told.watch), ("stop buying it", answer.stop_limit, told.stop)):
            axes.axhline(limit, color=_GREY, linewidth=0.9, linestyle=":")
            axes.annotate(
                f"{name} ({limit:g})", (days[-1], limit), xytext=(0, 2), textcoords="offset points", fontsize=8, ha="right"
            )
            if at is not None:
                axes.plot([dt.date.fromisoformat(at.on)], [limit], "o", color=_ACCENT)
        axes.set_yscale("log")
        axes.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}" if value >= 1 else f"{value:g}")
        axes.set_ylabel("evidence")

    return _svg(draw, 2.6)


def _ends(row: BatchRow) -> tuple[float, float, float]:
    """Return low, place and high of a ratio; a limit that is not known lies at the edge."""
    ends = (row.ratio.low or _LEAST, row.ratio.estimate or 1.0, row.ratio.high or _MOST)
    return tuple(min(max(one, _LEAST), _MOST) for one in ends)


def _svg(draw: Callable, height: float) -> bytes:
    """Return what `draw` puts on a figure of this height in inches."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    written = io.BytesIO()
    with _DRAWING, rc_context(_STYLE):
        figure = Figure(figsize=(_WIDTH, height), layout="constrained")
        FigureCanvasSVG(figure)
        draw(figure)
        figure.savefig(written, format="svg", metadata={"Date": None, "Creator": None})
    return written.getvalue()
