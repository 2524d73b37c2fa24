"""The early alarm over supplier batches: what is watched for, the verdict, the replay of one batch, the table and its export."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import export_buttons
from dashboard.parts.kept import KEPT, kept_batch
from dashboard.parts.picture import picture
from pipelines.answers.batch_alarm_record import BatchAlarm
from pipelines.answers.batch_alarm_text import batch_alarm_sheets, shown_replays, shown_table
from pipelines.charts.batch_alarm import batch_alarm_figure
from pipelines.settings import Settings
from pipelines.vocabulary import AlarmLevel


def asked(names: list[str], first: str | None) -> tuple[dict[str, str], Settings]:
    """Ask for the batch to show, the tolerance and the chance of a false alarm; return the case and the settings. first: shown
    where none was picked."""
    chosen = source.settings()
    with st.container(border=True, key="watch"):
        batch, tolerance, chance = st.columns([3, 2, 2])
        usual = f"first in the table: {first}" if first else "none"
        picked = batch.selectbox("Batch shown", names, index=None, placeholder=usual, **kept_batch(names))
        chosen = replace(
            chosen,
            batch_tolerance=tolerance.number_input(
                "Not worth an alarm: times as bad", value=chosen.batch_tolerance, min_value=1.0, max_value=5.0, step=0.1,
                key="batch_tolerance", **KEPT,
            ),
            false_alarm=chance.number_input(
                "Chance of a false alarm, in its whole life", value=chosen.false_alarm, min_value=0.0001, max_value=0.5,
                step=0.01, format="%.4g", key="false_alarm", **KEPT,
            ),
        )  # fmt: skip
    return ({} if picked is None else {"batch": picked}), chosen


def verdict(answer: BatchAlarm) -> None:
    """Show the first sentence, the rest, and what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: BatchAlarm) -> None:
    """Show the replay of one batch, the same in other ways, and all batches with their export."""
    if not answer.batches:
        return
    told = next(one for one in answer.batches if one.batch == answer.shown)
    st.subheader("One batch, day by day")
    if told.level is not AlarmLevel.UNWATCHED:
        picture(batch_alarm_figure(answer), key="batch_alarm", alt=f"Evidence against a batch over time. {told.sentence}")
    if not answer.sentence.startswith(told.sentence):
        text.quiet(told.sentence)
    with st.expander("Would it have come on another day?"):
        st.dataframe(shown_replays(answer), hide_index=True, height="content", key="replays")
    st.subheader("All batches")
    frame = shown_table(answer)
    wide = dict.fromkeys(("alarm on", "highest"), st.column_config.TextColumn(width=110))
    st.dataframe(frame, column_config=wide, hide_index=True, height="content" if len(frame) <= 10 else 400, key="batches")
    export_buttons(answer.question, lambda: batch_alarm_sheets(answer))


def method() -> None:
    """Show how the alarm works."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("batch_alarm"))
