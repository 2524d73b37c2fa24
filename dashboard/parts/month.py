"""A month: which one, its sentence, the months before as a picture, the tables, and the page and workbook to keep."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import XLSX
from dashboard.parts.picture import picture
from pipelines.answers.files import csv_bytes
from pipelines.answers.monthly_record import Monthly
from pipelines.answers.monthly_sheet import month_html, month_workbook
from pipelines.answers.monthly_text import cost_table, history_table, monthly_table, site_table, star_note
from pipelines.charts.monthly import drawn, monthly_figure


def asked() -> dict[str, str]:
    """Ask for the month; return the words of the case, none for the last whole one."""
    with st.sidebar:
        month = st.text_input(
            "Month", key="month", placeholder="the last whole one", help="Written as 2026-05.", bind="query-params"
        )
    return {"month": month.strip()} if month and month.strip() else {}


def verdict(answer: Monthly) -> None:
    """Say the month in one sentence, and what to mind."""
    text.lead(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: Monthly) -> None:
    """Show the months before, the month by site, what it cost, and the files."""
    if drawn(answer):
        picture(monthly_figure(answer), key="months", alt=f"Faults month by month. {answer.sentence}")
    st.subheader("By site")
    _table(site_table(answer), key="sites")
    if said := star_note(answer):
        text.quiet(said)
    costs = cost_table(answer)
    if len(costs):
        st.subheader("What it cost")
        _table(costs, key="month_costs")
    st.subheader("Month by month")
    _table(history_table(answer), key="history")
    name = f"month_{answer.month}"
    with st.container(horizontal=True):
        st.download_button("Page to print", lambda: month_html(answer), file_name=f"{name}.html", mime="text/html",
                           key="html_month", on_click="ignore")  # fmt: skip
        st.download_button("Excel", lambda: month_workbook(answer), file_name=f"{name}.xlsx", mime=XLSX,
                           key="xlsx_month", on_click="ignore")  # fmt: skip
        st.download_button("CSV", lambda: csv_bytes(monthly_table(answer)), file_name=f"{name}.csv", mime="text/csv",
                           key="csv_month", on_click="ignore")  # fmt: skip


def method() -> None:
    """Show how the numbers are made."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("monthly"))


def _table(frame: pd.DataFrame, *, key: str) -> None:
    config = {name: st.column_config.Column(alignment="right") for name in frame.columns[1:]}
    st.dataframe(frame, column_config=config, hide_index=True, height="content" if len(frame) <= 16 else 600, key=key)
