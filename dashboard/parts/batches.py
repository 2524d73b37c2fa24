"""Supplier batches compared: what is asked, the verdict, the forest of ratios, tables, suppliers and export."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.batch_verdict_record import BatchRow, BatchVerdictAnswer
from pipelines.answers.batch_verdict_text import batches_table, left_out_table, suppliers_table
from pipelines.charts.batch_verdict import MOST_BATCHES, batches_figure, drawn
from pipelines.vocabulary import Clock
from pipelines.wording import batches as wording
from pipelines.wording.verdict import column_words

_NUMBER = st.column_config.NumberColumn


def asked() -> tuple[dict[str, list[str]], dict[str, str]]:
    """Ask what to look at; return the filters and the words of the case."""
    known = source.choices("life")
    with st.sidebar:
        where = {
            column: st.multiselect(
                column_words(column).capitalize(), sorted(known.get(column, []), key=str.casefold), key=f"batches_{column}",
                placeholder="all", select_all=False, **KEPT,
            )
            for column in ("family", "usage_class", "site", "sensor_type")
        }  # fmt: skip
        reference = st.selectbox(
            "Held against", sorted(known.get("batch", []), key=str.casefold), index=None, placeholder="all others",
            key="batches_reference", **KEPT,
        )  # fmt: skip
    return {column: values for column, values in where.items() if values}, {"reference": reference} if reference else {}


def verdict(answer: BatchVerdictAnswer) -> None:
    """Show which batches stand out, then what to mind."""
    text.lead(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def forest(answer: BatchVerdictAnswer) -> None:
    """Show the ratios of the batches, and all of them as a table."""
    rows = drawn(answer)
    if rows:
        picture(batches_figure(answer), key="batches", alt=f"Ratios of batches. {answer.sentence}")
        told = sum(row.verdict is not None for row in answer.batches)
        if told > len(rows):
            text.quiet(f"{told - len(rows):,} more are in the table; the picture holds {MOST_BATCHES} at most.")
    shown = [row for row in answer.batches if row.modules or row.found_only]
    if not shown:
        return
    frame = pd.DataFrame([_row(row) for row in shown])
    clock = "play hours" if answer.clock == Clock.HOURS else "days"
    config = {name: _NUMBER(format="%.1f") for name in ("expected", "times", "from", "to")}
    config["mind"] = st.column_config.TextColumn(width="medium")
    config["one in ten by"] = f"one in ten by, {clock}"
    st.dataframe(frame, column_config=config, hide_index=True, placeholder="–", key="batches_table")


def suppliers(answer: BatchVerdictAnswer) -> None:
    """Show whether it is one batch or the supplier."""
    st.subheader("One batch, or the supplier?")
    text.paragraph(answer.suppliers.sentence)
    if answer.suppliers.rows:
        text.listed((row.supplier, row.sentence.partition(": ")[2]) for row in answer.suppliers.rows)


def exports(answer: BatchVerdictAnswer) -> None:
    """Show the buttons that give all tables as files, and the method."""
    export_buttons(answer.question, lambda: _sheets(answer))
    with st.expander("How this is worked out"):
        st.markdown(help_text("batch_verdict"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")
        text.listed((f"{count:,}", wording.left_out_words(key)) for key, count in answer.left_out.items() if count)


def _sheets(answer: BatchVerdictAnswer) -> dict[str, pd.DataFrame]:
    filters = {f"where {column}": " | ".join(values) for column, values in answer.where.items()}
    asked = asked_sheet(answer, clock=answer.clock, answer=answer.sentence, reference=answer.reference or "", **filters)
    sheets = {"batches": batches_table(answer), "left out": left_out_table(answer), "asked": asked}
    return sheets | ({"suppliers": suppliers_table(answer)} if answer.suppliers.rows else {})


def _row(row: BatchRow) -> dict[str, object]:
    return {
        "batch": row.batch, "supplier": row.supplier, "verdict": wording.verdict_word(row.verdict),
        "mind": wording.note(row), "modules": row.modules, "failures": row.failures,
        "compared": row.observed if row.verdict else None, "expected": row.expected if row.verdict else None,
        "times": row.ratio.estimate, "from": row.ratio.low, "to": row.ratio.high, "one in ten by": wording.age_words(row.b10),
    }  # fmt: skip
