"""The findings of the front screen: a heading, a sentence or two, and the way to the screen behind them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.verdict import contrast, ends
from pipelines.decisions.next_look import Look, Standing, next_look
from pipelines.vocabulary import Because, Clock, Question
from pipelines.wording.standing_out import next_words, set_aside_words
from pipelines.wording.verdict import column_words, counted

_CLEANING, _LIFE = "screens/cleaning_success.py", "screens/time_to_failure.py"
_RECURRENCE, _DATA = "screens/recurrence.py", "screens/data.py"
#: Links that need no address: screen, words of the link, address.
_FACTORS = ("screens/factors.py", "See what goes with failing sooner", {})
_BATCHES = ("screens/batch_verdict.py", "See supplier batches compared at equal age", {})
_RESTORATION = ("screens/restoration.py", "See how much of its age a clean gives back", {})
#: The address of a split holds the word that the reader sees.
_BY_FAMILY, _BY_DEPTH, _BY_SITE = ({"by": column_words(column)} for column in ("family", "depth", "site"))
#: Where each next step is taken: screen, words of the link, address.
_LOOK_AT = {
    Look.SET_ASIDE: (_DATA, "See what was set aside and why", {}),
    Look.NO_REGISTER: (_DATA, "See which columns are there", {}),
    Look.EARLY_REGISTER: (_LIFE, "See time to failure", {}),
    Look.PLAY_HOURS: (_LIFE, "See time to failure by site", _BY_SITE),
    Look.UNKNOWN_AGE: (_LIFE, "See the modules of unknown age", {}),
    Look.WORST_FAMILY: (_RECURRENCE, "See recurrence of this family by depth", _BY_DEPTH),
    Look.DEPTH: (_RECURRENCE, "See recurrence by depth of clean", _BY_DEPTH),
}


def size_sentence(size: Mapping[str, object]) -> str:
    """Return how large the record is."""
    jobs, units = int(size["job_count"]), int(size["unit_count"])
    if not jobs:
        return "No job is loaded yet, only other tables."
    return f"{counted(jobs, 'job')} on {counted(units, 'controller')}, from {size['log_start']} to {size['log_end']}."


def cleaning() -> None:
    """Does cleaning work, for whom best and worst?"""
    whole, split = source.answer(Question.CLEANING_SUCCESS), source.answer(Question.CLEANING_SUCCESS, by=["family"])
    _finding("Cleaning", [whole.sentence, contrast(split)], (_CLEANING, "See cleaning success by family", _BY_FAMILY))


def lifetimes() -> None:
    """How long do modules last, which families shortest and longest?"""
    whole, split = source.answer(Question.TIME_TO_FAILURE), source.answer(Question.TIME_TO_FAILURE, by=["family"])
    said = [whole.sentence] if _is_refused(split) else [whole.sentence, contrast(split)]
    _finding("First life of a stick module", said, (_LIFE, "See time to failure by family", _BY_FAMILY), _FACTORS)


def recurrence() -> None:
    """How long do cleans hold, and which depth holds longest?"""
    whole, split = source.answer(Question.RECURRENCE), source.answer(Question.RECURRENCE, by=["depth"])
    said = [whole.sentence] if _is_refused(split) else [whole.sentence, contrast(split)]
    _finding("How long cleans hold", said, (_RECURRENCE, "See recurrence by depth of clean", _BY_DEPTH), _RESTORATION)


def batches() -> None:
    """Which supplier batch fails more often than others? Nothing where no fitted module has a batch on record."""
    answer = source.batch_verdict({}, {})
    if any(row.modules for row in answer.batches):
        _finding("Supplier batches", [answer.sentence], _BATCHES)


def intake() -> None:
    """How much of the exports could be read?"""
    _finding("The data behind it", [set_aside_sentence()], _LOOK_AT[Look.SET_ASIDE])


def next_step() -> None:
    """What to look at next."""
    by_family = source.answer(Question.CLEANING_SUCCESS, by=["family"])
    found = ends(by_family)
    life = source.answer(Question.TIME_TO_FAILURE)
    known, unknown = life.groups[0].counts["spells"] if life.groups else 0, life.left_out["age_unknown"]
    look = next_look(Standing(
        set_aside_share=_set_aside_share(),
        is_lifetime_refused=any(group.because is Because.FAILURES_ONLY for group in life.groups),
        has_early_units=source.has_early_units(),
        is_in_days_for_want_of_hours=life.clock == Clock.DAYS,
        unknown_age_share=unknown / (known + unknown) if known + unknown else 0.0,
        is_family_apart=found.is_apart,
    ))  # fmt: skip
    family = found.lowest.name if found.lowest else ""
    page, link, query = _LOOK_AT[look]
    if look is Look.WORST_FAMILY:
        query = {**query, "family": family}
    _finding("Next", [next_words(look, family=family)], (page, link, query))


def _finding(heading: str, sentences: Sequence[str], *links: tuple[str, str, Mapping[str, str]]) -> None:
    with st.container(border=True):
        st.subheader(heading)
        for sentence in sentences:
            text.paragraph(sentence)
        for page, words, query in links:
            st.page_link(page, label=words, query_params=dict(query) or None)


def _is_refused(answer) -> bool:
    return all(group.because for group in answer.groups)


def _sums() -> tuple[int, int, int]:
    ledger = source.ledger()
    return int(ledger["lines_read"].sum()), int(ledger["loaded"].sum()), int(ledger["set_aside"].sum())


def set_aside_sentence() -> str:
    """Return how much of the exports went in."""
    read, loaded, set_aside = _sums()
    return set_aside_words(read=read, loaded=loaded, set_aside=set_aside)


def _set_aside_share() -> float:
    read, _, set_aside = _sums()
    return set_aside / read if read else 0.0
