"""The buttons that give tables as files, and the tables of an answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pandas as pd
import streamlit as st

from pipelines.answers.files import csv_bytes, workbook_bytes
from pipelines.answers.record import Answer, LifeGroup
from pipelines.answers.table import table
from pipelines.wording.verdict import left_out_words

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def export_buttons(name: str, sheets: Callable[[], Mapping[str, pd.DataFrame]]) -> None:
    """Show a CSV button (first sheet) and an Excel button (all). The files are made when they are asked for."""
    with st.container(horizontal=True):
        st.download_button(
            "CSV", lambda: csv_bytes(next(iter(sheets().values()))), file_name=f"{name}.csv", mime="text/csv",
            key=f"csv_{name}", on_click="ignore",
        )  # fmt: skip
        st.download_button(
            "Excel", lambda: workbook_bytes(sheets()), file_name=f"{name}.xlsx", mime=XLSX,
            key=f"xlsx_{name}", on_click="ignore",
        )  # fmt: skip


def answer_sheets(answer: Answer) -> dict[str, pd.DataFrame]:
    """Return the sheets of an answer: groups, every step of the curves, what was left out, and how it was asked."""
    sheets = {"groups": table(answer)}
    if curves := _curve_rows(answer):
        sheets["curves"] = pd.DataFrame(curves)
    sheets["left out"] = pd.DataFrame(
        [(key, count, left_out_words(key)) for key, count in answer.left_out.items()], columns=["kind", "count", "meaning"]
    )
    filters = {f"where {column}": " | ".join(values) for column, values in answer.where.items()}
    sheets["asked"] = asked_sheet(answer, clock=answer.clock, by=", ".join(answer.by), **filters)
    return sheets


def asked_sheet(answer, /, **more: str) -> pd.DataFrame:
    """Return how an answer, of whatever question, was asked: `more` words, level, log, settings and warnings."""
    about = {
        "question": answer.question, **more, "level": answer.level, "log_start": answer.log_start, "log_end": answer.log_end,
        **{f"setting {setting}": value for setting, value in answer.settings.items()},
        **{f"warning {number}": warning for number, warning in enumerate(answer.warnings, 1)},
    }  # fmt: skip
    return pd.DataFrame(list(about.items()), columns=["what", "value"]).astype(object)


def _curve_rows(answer: Answer) -> list[dict[str, object]]:
    rows = []
    for group in answer.groups:
        if not isinstance(group, LifeGroup):
            continue
        parts = [("known", group.curve)]
        if group.since_first_seen is not None:
            parts.append(("since_first_seen", group.since_first_seen.curve))
        rows += [{**group.by, "age": age, **point._asdict()} for age, curve in parts for point in curve]
    return rows
