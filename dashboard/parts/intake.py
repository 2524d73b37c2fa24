"""The tables of the data screen: ledger, rows set aside, columns present and absent, settings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.export import export_buttons
from pipelines.contract import WAREHOUSE_TABLE, columns_of
from pipelines.settings import Settings
from pipelines.wording.columns import adds_words, need_words, table_adds_words
from pipelines.wording.verdict import counted

#: More rows than this make the page heavy; the export holds them all.
MOST_ROWS = 5_000
#: Columns of the ledger that matter less, behind the counts.
_LAST = ["loaded_at", "encoding", "delimiter", "decimal_mark", "date_order"]
#: Headings that the name of a column does not say by itself.
_HEADING = {"table_name": "table", "column_name": "column", "is_row": "set aside"}


def ledger(frame: pd.DataFrame) -> None:
    """Show one row a file or sheet: every line of it is accounted for."""
    shown = frame if frame["sheet"].any() else frame.drop(columns="sheet")
    _table(shown[[*shown.columns.drop(_LAST), *_LAST]], key="ledger", counts=frame.select_dtypes("number").columns)
    export_buttons("ledger", lambda: {"ledger": frame})


def set_aside(frame: pd.DataFrame) -> None:
    """Show every row and cell that was set aside, with file, line, column, value and reason."""
    if not len(frame):
        text.paragraph("Nothing was set aside.")
        return
    is_row = frame["is_row"].astype(bool)
    text.paragraph(
        f"{counted(int(is_row.sum()), 'row')} set aside, and {counted(int((~is_row).sum()), 'single cell')} left blank "
        "in rows that were loaded."
    )
    if len(frame) > MOST_ROWS:
        text.quiet(f"The first {MOST_ROWS:,} are shown; the export holds all {len(frame):,}.")
    shown = frame.head(MOST_ROWS)
    _table(shown.assign(is_row=shown["is_row"].map({True: "row", False: "cell"})), key="set_aside")
    export_buttons("set_aside", lambda: {"set aside": frame})


def columns(loaded: pd.DataFrame) -> None:
    """Show which columns the exports have, and what each absent one would add."""
    present = set(zip(loaded["table_name"], loaded["column_name"], strict=True))
    tables = {table for table, _ in present}
    absent_tables = [(table, adds) for table in WAREHOUSE_TABLE if table not in tables and (adds := table_adds_words(table))]
    absent = [
        (f"{column.table}.{column.name}", adds)
        for table in WAREHOUSE_TABLE
        if table in tables
        for column in columns_of(table)
        if (table, column.name) not in present and (adds := adds_words(table, column.name))
    ]
    if absent_tables or absent:
        text.paragraph("Not in your exports; each would add:")
        text.listed([*absent_tables, *absent])
    else:
        text.paragraph("Your exports have every column that the answers use.")
    with st.expander("What every column means"):
        rows = [_meaning(column, (table, column.name) in present) for table in WAREHOUSE_TABLE for column in columns_of(table)]
        _table(pd.DataFrame(rows), key="meanings")


def settings(chosen: Settings) -> None:
    """Show every setting with its value, unit and meaning, and which differ from the defaults."""
    changed = [one.name for one in fields(chosen) if getattr(chosen, one.name) != one.default]
    text.paragraph(f"Changed from the defaults: {', '.join(changed)}." if changed else "All settings stand at their defaults.")
    text.quiet("To change one, write it into settings.toml in the warehouse folder, for example: notice_days = 7")
    with st.expander("All settings"):
        text.listed(
            (f"{one.name} = {_word(getattr(chosen, one.name))}", f"{one.metadata['help']} ({one.metadata['unit']})")
            for one in fields(chosen)
        )


def _meaning(column, is_present: bool) -> dict[str, str]:
    return {
        "table": column.table, "column": column.name, "in your exports": "yes" if is_present else "no",
        "need": need_words(column.need), "type": column.type, "unit": column.unit, "allowed": column.allowed,
        "meaning": column.meaning,
    }  # fmt: skip


def _table(frame: pd.DataFrame, *, key: str, counts: Iterable[str] = ()) -> None:
    shown = frame.rename(columns=_heading)
    config = {_heading(name): st.column_config.NumberColumn(format="%,.0f") for name in counts}
    st.dataframe(
        shown, column_config=config, hide_index=True, placeholder="–", height="content" if len(shown) <= 12 else 440, key=key
    )


def _heading(name: str) -> str:
    return _HEADING.get(name, name.replace("_", " "))


def _word(value: object) -> str:
    return "blank" if value is None else str(value).lower() if isinstance(value, bool) else str(value)
