"""The evidence on a supplier batch: which batch, the verdict, what the pack holds, and the button that gives it."""

from __future__ import annotations

import re

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.kept import KEPT, kept_batch
from pipelines.answers.batch_verdict_record import BatchRow
from pipelines.wording.batch_exhibit import MEMBERS, READ_WITH_CARE


def asked() -> tuple[BatchRow | None, bool]:
    """Ask for the batch, which opens with the one that stands out most, and whether notes shall be in it; None without any."""
    compared = {row.batch: row for row in source.batch_verdict({}, {}).batches}
    if not compared:
        text.lead("Nothing to say: the log names no supplier batch.")
        return None, False
    left, right, _ = st.columns([2, 2, 3], vertical_alignment="bottom")
    batch = left.selectbox("Batch", list(compared), **kept_batch(compared))
    notes = right.checkbox("With the notes of the jobs", key="exhibit_notes", **KEPT)
    return compared[batch], notes


def verdict(row: BatchRow, *, has_notes: bool) -> None:
    """Show what the pack is evidence of, and what of it may name people."""
    text.lead(row.sentence)
    if has_notes:
        text.note("Notes may name people. Read them before you give the pack away.")


def pack(row: BatchRow, *, has_notes: bool) -> None:
    """Show the button that gives the pack, made when it is asked for, what is in it, and how to work it out anew."""
    name = f"evidence_{re.sub(r'[^A-Za-z0-9-]+', '_', row.batch)}.zip"
    st.download_button(
        "Evidence pack", lambda: source.evidence_pack(row.batch, has_notes=has_notes), file_name=name, mime="application/zip",
        key="zip_exhibit", on_click="ignore",
    )  # fmt: skip
    text.paragraph("Whoever has the same raw files works it out anew, and is told whether all figures are the same:")
    st.code(f"stickfleet reproduce {name} PATH…", language=None, wrap_lines=True)
    st.subheader("What is in it")
    text.listed(MEMBERS.items())
    st.subheader("What to mind")
    text.listed((one,) for one in READ_WITH_CARE)


def method() -> None:
    """Show how a pack is made."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("batch_exhibit"))
