"""Returns and the warranty they allow: the verdict, the figure, the tables and their export."""

from __future__ import annotations

from dataclasses import asdict

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.picture import picture
from pipelines.answers.question import BY_OF_A_CASE
from pipelines.answers.warranty_record import Warranty, WarrantyGroup, Within
from pipelines.answers.warranty_text import told, warranty_table
from pipelines.charts.warranty import undrawn, warranty_figure
from pipelines.vocabulary import Because, Question
from pipelines.wording.label import label
from pipelines.wording.verdict import column_words, reason_words, share_words

_NUMBER, _WORD = st.column_config.NumberColumn, st.column_config.Column


def split() -> tuple[str, ...]:
    """Ask in the sidebar by what to split."""
    with st.sidebar:
        by = st.segmented_control(
            "Split by", BY_OF_A_CASE[Question.WARRANTY], format_func=column_words, key="sold_by", bind="query-params",
            persist_state="session",
        )  # fmt: skip
    return (by,) if by else ()


def verdict(answer: Warranty) -> None:
    """Show the first sentence, which is of the longest warranty where it can be told, the others, and what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: Warranty) -> None:
    """Show the curves, both tables with their export, and the method."""
    if answer.groups:
        picture(warranty_figure(answer), key="returns", alt=f"Share that came back by days since the sale. {answer.sentence}")
        if undrawn(answer):
            text.quiet(f"Only the largest groups are drawn; the tables below hold {undrawn(answer):,} more.")
        if answer.by:
            _longest(answer)
        _within(answer)
        export_buttons(answer.question, lambda: _sheets(answer))
    with st.expander("How this is worked out"):
        st.markdown(help_text("warranty"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def _sheets(answer: Warranty) -> dict[str, pd.DataFrame]:
    curves = [
        {**group.by, "returns": kind, **asdict(point)}
        for group in answer.groups
        for kind, points in (("all", group.returns), ("fault", group.fault_returns))
        for point in points
    ]
    return {
        "returns": warranty_table(answer),
        "curves": pd.DataFrame(curves),
        "asked": asked_sheet(answer, by=", ".join(answer.by)),
    }


def _longest(answer: Warranty) -> None:
    """Show one row a group: sold, returned, and the longest warranty."""
    st.subheader("The longest warranty")
    frame = pd.DataFrame([
        {
            _head(answer): label(group.by), "sold": group.counts["sales"], "came back": group.counts["returned"],
            "almost sure up to, days": group.longest.sure_days, "likely up to, days": group.longest.likely_days,
            "note": _note(group),
        }
        for group in answer.groups
    ]).astype({"almost sure up to, days": float, "likely up to, days": float})  # fmt: skip
    if not frame["note"].any():
        frame = frame.drop(columns="note")
    config = {name: _NUMBER(name, format="%,.0f") for name in frame.columns[1:5]}
    st.dataframe(frame, column_config=config, hide_index=True, placeholder="–", key="longest", height=_height(frame))


def _note(group: WarrantyGroup) -> str:
    if group.longest.because is not None:
        return reason_words(Because(group.longest.because))
    return f"no record beyond {group.told_to:,} days" if group.longest.is_likely_open else ""


def _within(answer: Warranty) -> None:
    """Show who came back within how many days, and what that costs."""
    st.subheader("Who came back by when")
    cost = f"cost a sale{f', {answer.currency}' if answer.currency else ''}"
    frame = pd.DataFrame([_row(answer, group, one) for group in answer.groups for one in told(group)])
    if frame["cost"].isna().all():  # what a return costs is not given
        frame = frame.drop(columns=["cost", "from ", "to "])
    shares = ["came back", "from", "to", "for a fault"]
    styled = frame.style.format(lambda value: "–" if pd.isna(value) else share_words(value), subset=shares)
    config = {
        "watched so long": _NUMBER(format="%,.0f"),
        "cost": _NUMBER(cost, format="%.2f"),
        "from ": _NUMBER("from", format="%.2f"),
        "to ": _NUMBER("to", format="%.2f"),
    }
    st.dataframe(styled, column_config=config | {name: _WORD(name) for name in shares}, hide_index=True, placeholder="–",
                 key="within", height=_height(frame))  # fmt: skip


def _row(answer: Warranty, group: WarrantyGroup, one: Within) -> dict[str, object]:
    numbers = {
        "came back": one.returned.estimate, "from": one.returned.low, "to": one.returned.high,
        "for a fault": one.returned_for_fault.estimate, "cost": one.cost.estimate, "from ": one.cost.low, "to ": one.cost.high,
    }  # fmt: skip
    named = {_head(answer): label(group.by)} if answer.by else {}
    floats = {name: float("nan") if value is None else value for name, value in numbers.items()}
    return {**named, "within, days": one.days, "watched so long": one.at_risk, **floats}


def _head(answer: Warranty) -> str:
    return ", ".join(column_words(column) for column in answer.by)


def _height(frame: pd.DataFrame) -> str | int:
    return "content" if len(frame) <= 16 else 600
