"""What kind of worse a batch is: which batch, the verdict, curves and difference, mechanisms, tables and export."""

from __future__ import annotations

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.kept import KEPT, kept_batch
from dashboard.parts.picture import picture
from pipelines.answers.batch_pattern_record import BatchPattern
from pipelines.answers.batch_pattern_text import sheets, shown_curves, shown_mechanisms
from pipelines.charts.batch_pattern import difference_figure, excess_figure, mechanism_figure, pair_figure
from pipelines.vocabulary import Clock
from pipelines.wording.batch_pattern import count_words, mechanism_words

#: Ages of the curves in the table.
_ROWS = 16


def asked() -> dict[str, str]:
    """Ask for the batch, which opens with the one that stands out most, and for a reference; return the words of the case."""
    compared = source.batch_verdict({}, {}).batches
    names = [row.batch for row in compared if row.modules] or [row.batch for row in compared]
    if not names:
        text.lead("Nothing to say: no module was fitted with a supplier batch.")
        return {}
    left, right, _ = st.columns([2, 2, 3])
    batch = left.selectbox("Batch", names, **kept_batch(names))
    others = sorted((one for one in names if one != batch), key=str.casefold)
    reference = right.selectbox("Held against", others, index=None, placeholder="all others", key="pattern_reference", **KEPT)
    return {"batch": batch} | ({"reference": reference} if reference else {})


def verdict(answer: BatchPattern) -> None:
    """Show what kind of worse it is, the rest, and what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def curves(answer: BatchPattern) -> None:
    """Show both curves, and beneath them their difference."""
    if not answer.curves.points:
        return
    st.subheader("Both by age")
    picture(pair_figure(answer), key="pair", alt=f"Shares still free of failure, batch and others. {answer.curves.sentence}")
    picture(difference_figure(answer), key="difference", alt=f"How many more of the batch failed. {answer.curves.sentence}")
    st.dataframe(shown_curves(answer, Clock(answer.clock), most=_ROWS), hide_index=True, height="content", key="pair_table")


def mechanisms(answer: BatchPattern) -> None:
    """Show where the excess comes from."""
    found = answer.mechanisms
    if not (found.rows or found.sentence):
        return
    st.subheader("Of which mechanism")
    text.paragraph(found.sentence)
    if not found.rows:
        return
    picture(excess_figure(answer), key="excess", alt=f"Failures beyond those expected, by mechanism. {found.sentence}")
    st.dataframe(shown_mechanisms(answer), hide_index=True, height="content", key="excess_table")
    names = [row.mechanism for row in found.rows]
    name = st.selectbox("Shown", names, format_func=mechanism_words, key="pattern_mechanism")
    row = found.rows[names.index(name)]
    picture(mechanism_figure(answer, row), key="mechanism", alt=f"Shares failed of {mechanism_words(name)}, batch and others.")


def exports(answer: BatchPattern) -> None:
    """Show the buttons that give all tables as files, and the method."""
    export_buttons(answer.question, lambda: _sheets(answer))
    with st.expander("How this is worked out"):
        st.markdown(help_text("batch_pattern"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")
        text.listed((f"{count:,}", count_words(key)) for key, count in answer.counts.items() if count)


def _sheets(answer: BatchPattern) -> dict:
    filters = {f"where {column}": " | ".join(values) for column, values in answer.where.items()}
    about = asked_sheet(
        answer, clock=answer.clock, batch=answer.batch, reference=answer.reference or "", answer=answer.sentence, **filters
    )  # fmt: skip
    return sheets(answer) | {"asked": about}
