"""What stands on the page while there is nothing to show, or when something is in the way."""

from __future__ import annotations

import streamlit as st

from dashboard.parts import text
from pipelines.errors import FleetError


def no_warehouse(folder: str) -> None:
    """Say how to begin; the page follows by itself once a load is done."""
    st.title("No job log loaded yet")
    text.lead("Load an export of your job log, and this page fills by itself.")
    st.code(f'stickfleet load PATH --warehouse "{folder}"', language="bash")
    text.listed([
        ("PATH", "a file or a folder: CSV, TSV, Excel or Parquet. Only six columns are needed: the controller's number, "
         "the stick, the family, the day it came in, what was done, and the result."),
        ("Try first", "stickfleet check PATH says what would be loaded and changes nothing."),
        ("Other headings", "stickfleet check names the headings it does not know; a mapping file teaches it yours."),
    ])  # fmt: skip


def trouble(error: FleetError) -> None:
    """Show what was found and what to do about it."""
    st.subheader("This cannot be shown")
    text.note(error.what)
    text.paragraph(error.remedy)
