"""A month as a page to print or send, without scripts or anything fetched, and as a workbook."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.files import workbook_bytes
from pipelines.answers.monthly_record import Monthly
from pipelines.answers.monthly_text import cost_table, history_table, monthly_sheets, site_table, star_note
from pipelines.answers.page import page
from pipelines.wording.change import exposure_words, rate_words
from pipelines.wording.costs import cost_words, money_unit
from pipelines.wording.monthly import cost_per_hour_words, down_words, per_words, without_downtime_words

_WIDTH, _HEIGHT, _GAP = 720.0, 130.0, 0.35


def month_html(answer: Monthly) -> bytes:
    """Return the page. Whatever comes from the log is shown as it is, never run."""
    whole = answer.whole
    numbers = [
        (rate_words(whole.rate.estimate), f"faults for {exposure_words(answer.clock)}"),
        (down_words(whole.hours_down), "out of use because of a stick"),
        (
            cost_per_hour_words(whole.cost_per_hour.estimate, answer.currency),
            f"{per_words(answer.clock)}{without_downtime_words(whole, answer.currency)}",
        ),
    ]
    return page(
        "month_sheet.html", month=answer.month, sentence=answer.sentence, warnings=answer.warnings, numbers=numbers,
        picture=_picture(answer), picture_title=f"Faults for {exposure_words(answer.clock)}, month by month",
        sites=site_table(answer), costs=cost_table(answer), star=star_note(answer), history=history_table(answer),
        level=f"{answer.level:.0%}", log=f"{answer.log_start} to {answer.log_end}",
        asked_for=[f"{cost_words(one.name)}, {money_unit(one.unit, answer.currency)}" for one in answer.asked_for],
    )  # fmt: skip


def month_workbook(answer: Monthly) -> bytes:
    """Return the workbook: all numbers of the month by site, of the months before, and what was asked."""
    return workbook_bytes(monthly_sheets(answer))


@dataclass(frozen=True)
class _Bar:
    """One month in the units of an SVG: a bar, and a line from low to high."""

    x: float
    y: float
    width: float
    height: float
    middle: float
    low: float
    high: float
    label: str
    value: str
    is_asked: bool


@dataclass(frozen=True)
class _Picture:
    bars: list[_Bar]
    width: float = _WIDTH
    height: float = _HEIGHT


def _picture(answer: Monthly) -> _Picture | None:
    """Draw the rate of every month with its limits; None where none can be told."""
    tops = [one.rate.high for one in answer.history if one.rate.high is not None]
    if not tops:
        return None
    step, per = _WIDTH / len(answer.history), _HEIGHT / max(tops)
    bars = []
    for place, one in enumerate(answer.history):
        if one.rate.high is None:
            continue
        tall, low = (per * (value or 0.0) for value in (one.rate.estimate, one.rate.low))
        x, width = step * (place + _GAP / 2), step * (1 - _GAP)
        numbers = (x, _HEIGHT - tall, width, tall, x + width / 2, _HEIGHT - low, _HEIGHT - per * one.rate.high)
        bars.append(
            _Bar(*(round(number, 1) for number in numbers), one.month, rate_words(one.rate.estimate), one.month == answer.month)
        )
    return _Picture(bars)
