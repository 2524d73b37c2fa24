"""The filters of a screen, in the sidebar; they live in the page's address, so a view can be kept and passed on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import streamlit as st

from dashboard import source
from dashboard.parts.kept import KEPT
from pipelines.answers import BY
from pipelines.vocabulary import Clock, Question
from pipelines.wording.verdict import column_words, value_words

#: What can be filtered by; every grouping column can be split by.
_FILTERED = ("family", "usage_class", "site")
_LABEL = {"family": "Family", "usage_class": "Usage", "site": "Site"}
_HORIZONS = (30, 90, 180)
_WITH_HORIZON = (Question.CLEANING_SUCCESS, Question.RESTORATION)
_AUTOMATIC = "automatic"


@dataclass(frozen=True)
class Chosen:
    """What the reader asked for."""

    by: tuple[str, ...] = ()
    clock: str | None = None
    where: dict[str, list[str]] = field(default_factory=dict)
    horizon: float | None = None


def filters(question: Question, *, split_by: Sequence[str] = ("family",), is_compared: bool = False) -> Chosen:
    """Show the filters of a question and return what is chosen. `split_by` is the split a screen opens with.

    is_compared: the columns are not split by but compared with each other; they are chosen apart from the splits.
    """
    choices, size = source.choices(question), source.overview()
    with st.sidebar:
        by = st.multiselect(
            "Compare" if is_compared else "Split by", BY[question], default=list(split_by), format_func=column_words,
            key="compare" if is_compared else "by", **KEPT, select_all=False,
            placeholder="the usual ones" if is_compared else "all together",
        )  # fmt: skip
        where = {column: values for column in _FILTERED if (values := _values(column, choices.get(column, [])))}
        where |= {name: [day.isoformat()] for name, day in _dates(question, size) if day is not None}
        horizon = _horizon() if question in _WITH_HORIZON else None
        clock = _clock(question)
    return Chosen(tuple(by), clock, where, horizon)


def in_words(chosen: Chosen) -> str:
    """Return which part of the log is shown, as a short sentence."""
    parts = [
        f"{_LABEL[column].lower()} {' or '.join(value_words(column, value) for value in chosen.where[column])}"
        for column in _FILTERED
        if column in chosen.where
    ]
    parts += [f"{word} {chosen.where[name][0]}" for name, word in (("from_on", "from"), ("to_on", "to")) if name in chosen.where]
    first, last = (chosen.where.get(name, [""])[0] for name in ("from_on", "to_on"))
    turned = " The first day is after the last: mend one of the two." if first > last > "" else ""
    return f"Only {', '.join(parts)}.{turned}" if parts else "The whole log; filters are in the side panel."


def _values(column: str, known: Sequence[str]) -> list[str]:
    if not known:
        return []
    return st.multiselect(
        _LABEL[column], sorted(known, key=str.casefold), format_func=lambda value: value_words(column, value), key=column,
        **KEPT, placeholder="all", select_all=False, filter_mode="contains",
    )  # fmt: skip


def _dates(question: Question, size: dict[str, object]) -> list[tuple[str, dt.date | None]]:
    what = "Received" if question == Question.CLEANING_SUCCESS else "Begun"
    if not size["log_start"] or not size["log_end"]:
        return []
    first, last = (dt.date.fromisoformat(str(size[name])) for name in ("log_start", "log_end"))
    return [
        (name, st.date_input(
            f"{what} {word}", value=None, min_value=first, max_value=last, format="YYYY-MM-DD", key=name, **KEPT
        ))
        for name, word in (("from_on", "from"), ("to_on", "to"))
    ]  # fmt: skip


def _horizon() -> float:
    return st.segmented_control("Still good after", _HORIZONS, default=90, required=True, format_func=str, key="horizon", **KEPT)


def _clock(question: Question) -> str | None:
    usual = "days" if question == Question.CLEANING_SUCCESS else "hours, or days where too many hours are missing"
    chosen = st.segmented_control(
        "Clock", [_AUTOMATIC, Clock.HOURS.value, Clock.DAYS.value], default=_AUTOMATIC, required=True, key="clock",
        **KEPT, help=f"Automatic: {usual}.",
    )  # fmt: skip
    return None if chosen == _AUTOMATIC else chosen
