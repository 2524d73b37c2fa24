"""The study of the tester: what is asked, the verdict, the parts of the spread, what that does at the limit, and export."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.tester_study_record import TesterStudy
from pipelines.answers.tester_study_text import shown_parts, shown_persons, study_sheets
from pipelines.charts.tester_study import parts_figure, pass_figure
from pipelines.wording.tester_study import limit_sentence, measure_words, unit_words


def asked(plain: TesterStudy) -> dict[str, str]:
    """Ask for the measure and its limit; plain: the answer without either. Return the words of the case."""
    if not plain.measures:
        return {}
    left, right, _ = st.columns([2, 2, 3])
    names = list(plain.measures)
    measure = left.selectbox(
        "Measure", names, index=names.index(plain.case.measure), format_func=measure_words, key="measure", **KEPT
    )
    known = plain.case.limit if measure == plain.case.measure else None
    limit = right.number_input(
        f"Pass limit, {unit_words(measure)}", value=None, min_value=0.001, max_value=200.0, step=0.5, key="limit",
        placeholder="from the table of limits" if known is None else f"{known:g}", **KEPT,
    )  # fmt: skip
    return {"measure": measure} | ({} if limit is None else {"limit": str(limit)})


def verdict(answer: TesterStudy) -> None:
    """Show whether the tester is good enough, the rest, and what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: TesterStudy) -> None:
    """Show the parts of the spread, the persons, how a stick near the limit fares, the export and the method."""
    if answer.components:
        st.subheader("What the spread is made of")
        picture(parts_figure(answer), key="parts", alt=f"Standard deviations. {answer.sentence}")
        _frame(shown_parts(answer), "parts_table")
        if answer.at_limit is not None:
            st.subheader("A stick near the limit")
            picture(pass_figure(answer), key="pass", alt=f"Chance to pass by the true value. {limit_sentence(answer)}")
        st.subheader("Who read")
        _frame(shown_persons(answer), "persons")
        export_buttons(answer.question, lambda: study_sheets(answer) | {"asked": asked_sheet(answer)})
    with st.expander("How this is worked out"):
        st.markdown(help_text("tester_study"))


def _frame(frame: pd.DataFrame, key: str) -> None:
    st.dataframe(frame, hide_index=True, height="content", key=key)
