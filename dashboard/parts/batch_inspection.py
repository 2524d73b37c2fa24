"""Incoming inspection: a plan asked for, the verdict, batch by batch, the plan's curve, the field, the table and its export."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.batch_inspection_record import BatchInspection
from pipelines.answers.batch_inspection_text import inspection_sheets, shown_rows
from pipelines.charts.batch_inspection import chart_figure, field_figure, plan_figure
from pipelines.estimates.standard_plans import FIRST_LETTER, LEVELS
from pipelines.wording.batch_inspection import chart_sentence, field_sentence, plan_sentence


def verdict(answer: BatchInspection) -> None:
    """Show how decisions stand to their plans, the rest, and what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: BatchInspection) -> None:
    """Show successive batches, the plan in use, the field, every inspection, and the export."""
    if answer.charts:
        st.subheader("Batch by batch")
        for one in (one for one in answer.charts if one.because is not None):
            text.quiet(chart_sentence(one))
    drawn = [one for one in answer.charts if one.because is None]
    if drawn:
        chart = _one_of(drawn, lambda one: f"{one.supplier}, {one.characteristic}", "chart")
        picture(chart_figure(chart), key="chart_figure", alt=chart_sentence(chart))
        text.paragraph(chart_sentence(chart))
    if answer.used_plan is not None:
        st.subheader("What the plan lets through")
        picture(plan_figure([answer.used_plan]), key="used_plan", alt=f"Operating curve. {answer.sentence}")
    told = [one for one in answer.fields if one.batches]
    if told:
        st.subheader("Did it tell the field?")
        part = _one_of(told, lambda one: one.characteristic, "field")
        picture(field_figure(part), key="field_figure", alt=field_sentence(part, answer.level))
    if answer.rows:
        st.subheader("Every inspection")
        frame = shown_rows(answer)
        wide = {"note": st.column_config.TextColumn(width=120)}
        st.dataframe(frame, column_config=wide, hide_index=True, key="inspections", height="content" if len(frame) <= 10 else 400)
        export_buttons(answer.question, lambda: inspection_sheets(answer) | {"asked": asked_sheet(answer)})


def asked_plan() -> dict[str, str]:
    """Ask for a delivery to come; return the words of the case for a plan, none as long as too little is said."""
    st.subheader("Plan an inspection")
    lot, aql, level = st.columns(3)
    size = lot.number_input("In the delivery", value=None, min_value=2, max_value=1_000_000, step=1, key="lot", **KEPT)
    held = [f"{one:g}" for one in FIRST_LETTER]
    agreed = aql.selectbox("Agreed limit, % nonconforming", held, index=None, key="aql", placeholder="none", **KEPT)
    chosen = level.selectbox("Level", list(LEVELS), index=1, key="level", **KEPT)
    good, bad, _ = st.columns(3)
    passes = good.number_input("Should pass, % nonconforming", value=None, min_value=0.0, max_value=99.0, key="good_pct", **KEPT)
    fails = bad.number_input("Should not pass, %", value=None, min_value=0.01, max_value=100.0, key="bad_pct", **KEPT)
    case = {} if size is None else {"lot": size}
    if agreed is not None and size is not None:
        case |= {"aql": agreed, "level": chosen}
    if fails is not None:
        case |= {"bad_pct": fails} | ({} if passes is None else {"good_pct": passes})
    if not {"aql", "bad_pct"} & set(case):
        text.quiet("Give the size of the delivery and the agreed limit, or what share should not pass.")
        return {}
    return {name: str(value) for name, value in case.items()}


def plans(answer: BatchInspection) -> None:
    """Show the plans for the delivery, with their curves."""
    for one in answer.plans:
        text.paragraph(plan_sentence(one, answer.case))
    if any(one.because is None for one in answer.plans):
        picture(plan_figure(answer.plans), key="asked_plan", alt="Operating curves of the plans for the delivery.")


def method() -> None:
    """Show how the numbers are made."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("batch_inspection"))


def _one_of(parts: Sequence, name: Callable[[object], str], key: str):
    if len(parts) == 1:
        return parts[0]
    names = {name(one): one for one in parts}
    return names[st.selectbox("Shown", list(names), key=key, **KEPT)]
