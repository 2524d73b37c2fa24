"""A batch to be contained: which one, the verdict, where it is, what a claim rests on, the list and its export."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.kept import KEPT, kept_batch
from dashboard.parts.picture import picture
from pipelines.answers.batch_containment_record import BatchContainment
from pipelines.answers.batch_containment_text import containment_sheets, shown_claim, shown_modules
from pipelines.answers.cleaning_money import INTERVAL_COSTS
from pipelines.answers.lot_money import Missing
from pipelines.charts.batch_containment import places_figure
from pipelines.vocabulary import Hold

#: A fault all told, or what it is put together from.
ASKED = ("fault_cost", *(name for name in INTERVAL_COSTS if not name.endswith("_share")))
_TALL, _MOST = 600, 16


def asked() -> dict[str, str]:
    """Ask for the batch, which opens with the one that stands out most, and for days; return the words of the case."""
    known = [row.batch for row in source.batch_verdict({}, {}).batches]
    if not known:
        text.lead("Nothing to say: the log names no supplier batch.")
        return {}
    with st.container(border=True, key="contain"):
        first, second = st.columns([3, 2])
        batch = first.selectbox("Batch", known, **kept_batch(known))
        days = second.number_input(
            "Failures to come within, days", value=None, min_value=1, max_value=3650, step=30, key="contain_days",
            placeholder="90", **KEPT,
        )  # fmt: skip
    return {"batch": batch} | ({} if days is None else {"days": str(days)})


def wanted(plain: BatchContainment) -> list[Missing]:
    """Return what is still asked for: nothing once a fault all told is typed."""
    is_typed = st.session_state.get("fault_cost") is not None or "fault_cost" in st.query_params
    return [] if is_typed else plain.asked_for


def verdict(answer: BatchContainment) -> None:
    """Show where it is and what it costs, then what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: BatchContainment) -> None:
    """Show the sites, what a claim rests on, and the list of modules with its export."""
    if answer.sites:
        picture(places_figure(answer), key="places", alt=f"Controllers in service by site. {answer.sentence}")
    if answer.excess.because is None:
        st.subheader("What a claim rests on")
        _frame(shown_claim(answer), key="claim")
    if answer.modules:
        frame = shown_modules(answer)
        certain = [one.hold in (Hold.FITTED, Hold.FOUND) for one in answer.modules]
        for is_certain, heading, key in ((True, "Modules of the batch", "modules"), (False, "May be of the batch", "may_carry")):
            rows = frame[[one is is_certain for one in certain]]
            if len(rows):
                st.subheader(heading)
                _frame(rows, key=key)
        export_buttons(answer.question, lambda: {**containment_sheets(answer), "asked": asked_sheet(answer)})


def method() -> None:
    """Show how the numbers are made."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("batch_containment"))


def _frame(frame: pd.DataFrame, *, key: str) -> None:
    st.dataframe(frame, hide_index=True, key=key, height="content" if len(frame) <= _MOST else _TALL)
