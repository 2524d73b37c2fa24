"""What will fail next and what to keep for it: verdicts, figures, tables, exports and method."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.picture import picture
from pipelines.answers.next_failures_record import NextFailures
from pipelines.answers.next_failures_text import age_words, ahead_table, stick_table
from pipelines.answers.shelf_record import Shelf
from pipelines.answers.shelf_text import note_words, shelf_table
from pipelines.charts.outlook import forecast_figure, shelf_figure, shown
from pipelines.wording.outlook import ahead_words, count_words, since_words, tried_sentence
from pipelines.wording.shelf import MODULE, part_words
from pipelines.wording.verdict import level_words, limits_words, share_words

#: Sticks that the page lists; the export has all.
MOST_STICKS = 50
_NUMBER = st.column_config.NumberColumn


def verdict(answer: NextFailures | Shelf) -> None:
    """Show the sentence, then what to mind."""
    text.lead(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def next_evidence(answer: NextFailures) -> None:
    """Show the sticks that are likeliest to fail, the coming weeks, and how the answer did on the last ones."""
    interval = f"{level_words(answer.level)} interval"
    if answer.sticks:
        st.subheader(f"The likeliest to fail within {answer.days} days")
        _frame(pd.DataFrame([_stick(one, interval) for one in answer.sticks[:MOST_STICKS]]), key="sticks")
        if len(answer.sticks) > MOST_STICKS:
            text.quiet(f"The files below list {len(answer.sticks) - MOST_STICKS:,} more.")
        export_buttons(answer.question, lambda: _sheets(answer))
        st.subheader("The next 13 weeks")
        picture(forecast_figure(answer), key="forecast", alt=f"Faults of past quarters and of the next one. {answer.sentence}")
        _frame(pd.DataFrame([_ahead(one) for one in answer.groups if len(one.by) < 2]), key="ahead")
        text.quiet(f"{_brackets(answer)} The files hold each family at each site.")
    if answer.tried is not None:
        st.subheader("Does it come true?")
        text.paragraph(tried_sentence(answer.tried, answer.days))
        if answer.tried.bands:
            _frame(pd.DataFrame([_band(one, interval) for one in answer.tried.bands]), key="tried")
    _method("next_failures", answer)


def shelf_evidence(answer: Shelf) -> None:
    """Show what to keep: the figure, a table of modules, one of spare controllers, and the method."""
    if shown(answer):
        picture(shelf_figure(answer), key="shelf", alt=f"Modules needed, to keep and at hand. {answer.sentence}")
    for is_module, heading, key in ((True, "Modules", "modules"), (False, "Spare controllers", "spares")):
        rows = [row for row in answer.rows if (row.kind == MODULE) is is_module]
        if rows:
            st.subheader(heading)
            _frame(pd.DataFrame([_spare(row, is_module=is_module) for row in rows]), key=key)
    if answer.rows:
        text.quiet(_brackets(answer))
        export_buttons(answer.question, lambda: {"shelf": shelf_table(answer), "asked": asked_sheet(answer)})
    _method("shelf", answer)


def _method(name: str, answer: NextFailures | Shelf) -> None:
    with st.expander("How this is worked out"):
        st.markdown(help_text(name))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def _brackets(answer: NextFailures | Shelf) -> str:
    return f"In brackets: {level_words(answer.level)} intervals."


def _sheets(answer: NextFailures) -> dict[str, pd.DataFrame]:
    return {"sticks": stick_table(answer), "13 weeks": ahead_table(answer), "asked": asked_sheet(answer)}


def _frame(frame: pd.DataFrame, *, key: str) -> None:
    config = {name: _NUMBER(name, format="%,.0f") for name in frame.columns if pd.api.types.is_numeric_dtype(frame[name])}
    st.dataframe(
        frame, column_config=config, hide_index=True, placeholder="–", key=key, height="content" if len(frame) <= 16 else 600
    )


def _stick(one, interval: str) -> dict[str, object]:
    return {
        "": one.rank, "controller": one.unit_id, "stick": one.stick, "family": one.family, "site": one.site or "–",
        "chance of a fault": share_words(one.chance.estimate),
        interval: limits_words(one.chance.low, one.chance.high, share_words),
        "age": age_words(one), "counted": since_words(one.since), "hours a week": one.hours_per_week,
        "faults so far": one.faults_before,
    }  # fmt: skip


def _ahead(one) -> dict[str, object]:
    return {
        "": ahead_words(one.by), "sticks": one.sticks, "faults": count_words(one.faults), "jobs": count_words(one.jobs),
        "new modules": count_words(one.modules),
    }  # fmt: skip


def _band(one, interval: str) -> dict[str, object]:
    return {
        "chance given": share_words(one.chance), "had a fault": int(one.k), "of": int(one.n), "share": share_words(one.share),
        interval: limits_words(one.low, one.high, share_words),
    }  # fmt: skip


def _spare(row, *, is_module: bool) -> dict[str, object]:
    told = {"what": part_words(row), "needed": count_words(row.demand), "order anew at" if is_module else "keep": row.keep}
    if is_module:
        told |= {"if the pace were known": row.keep_if_known, "at hand, by the record": row.at_hand}
    return {**told, "note": note_words(row)}
