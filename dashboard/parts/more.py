"""“More about this”: the heavier estimates under an answer, each worked out only once its section is opened."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import streamlit as st

from dashboard import source
from dashboard.parts import more_cleaning, more_lives
from dashboard.parts.filters import Chosen
from pipelines.answers.record import Answer
from pipelines.vocabulary import Question


@dataclass(frozen=True)
class _Section:
    """key: its word in the address; show: sentence, picture, table and export of a detailed answer, or of a brief one."""

    key: str
    title: str
    show: Callable[[Answer, Chosen], None]
    is_brief: bool = False


_MECHANISMS = _Section("mechanisms", "Which fault ends them", more_lives.mechanisms)
_POOLED = _Section("together", "Small groups, judged together", more_lives.pooled)
_LAWS = _Section("laws", "Which law of wear fits", more_lives.laws)
_BETWEEN = _Section("between", "When faults lie between two visits", more_lives.between)
_CONTROLLERS = _Section("controllers", "Do controllers differ?", more_lives.controllers)
_SITES = _Section("sites", "If sites differ", more_lives.sites)
_AGE = _Section("still_good", "How many are still good at an age", more_lives.survivors, is_brief=True)
_CLOCK = _Section("hours_or_days", "Hours or days?", more_lives.clock)
_OFTEN = _Section("how_often", "How often a controller fails", more_lives.mean_counts)
_SECTIONS: dict[Question, Sequence[_Section]] = {
    Question.TIME_TO_FAILURE: (_AGE, _MECHANISMS, _POOLED, _LAWS, _BETWEEN, _CONTROLLERS, _SITES, _CLOCK),
    Question.RECURRENCE: (_AGE, _OFTEN, _MECHANISMS, _POOLED, _LAWS, _BETWEEN, _CONTROLLERS, _SITES),
    Question.CLEANING_SUCCESS: (
        _Section("together", "Small groups, judged together", more_cleaning.pooled),
        _Section("all_cleaned", "Had every fault been cleaned", more_cleaning.standardised),
        _Section("controllers", "Do controllers differ?", more_cleaning.controllers),
        _Section("sites", "If sites differ", more_cleaning.sites),
    ),
}


def more(question: Question, chosen: Chosen, answer: Answer) -> None:
    """Show the closed sections of an answer that has something to say. Which are open stands in the address."""
    if not answer.groups or all(group.because for group in answer.groups):
        return
    st.subheader("More about this")
    for place in range(len(_SECTIONS[question])):
        _show(question, place, chosen)


@st.fragment
def _show(question: Question, place: int, chosen: Chosen) -> None:
    section = _SECTIONS[question][place]
    box = st.expander(section.title, key=section.key, bind="query-params")
    if box.open:
        with box:
            section.show(_answer(question, chosen, is_brief=section.is_brief), chosen)


def _answer(question: Question, chosen: Chosen, *, is_brief: bool) -> Answer:
    return source.answer(
        question, by=chosen.by, clock=chosen.clock, where=chosen.where, horizon=chosen.horizon, is_brief=is_brief
    )
