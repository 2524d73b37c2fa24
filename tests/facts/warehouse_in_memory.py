"""A real DuckDB in memory with the canonical tables, filled from small frames; and its histories as the oracle's frames."""

from __future__ import annotations

import duckdb
import pandas as pd

from pipelines.contract import WAREHOUSE_TABLE, columns_of
from pipelines.facts.build import build
from pipelines.settings import Settings
from tests.facts.oracle import LEFT_OUT, LIFE_COLUMNS, SPELL_COLUMNS, Histories

ATTEMPTS = """
SELECT unit_id, stick, life, generation, job_key, received_on, depth, attempt_number, is_passed, mechanism, family
FROM described_attempt
"""
SPELLS = """
SELECT
    unit_id, stick, life, generation, kind, began_on AS opened_on,
    is_age_known_days, is_age_known_h AS is_age_known_hours,
    entry_days, lower_days, coalesce(upper_days, at_days) AS upper_days, at_days, is_failure,
    entry_h, lower_h, coalesce(upper_h, at_h) AS upper_h, at_h, depth, attempt_number, mechanism, failed_by, family
FROM described_spell JOIN (SELECT slot_no, unit_id FROM slot) AS tag ON tag.slot_no = described_spell.slot_no
WHERE at_days > entry_days OR at_h > entry_h
"""
LIVES = """
SELECT unit_id, stick, life, generation, is_failure, entry_days, exit_days, entry_h, exit_h FROM described_module_life
"""


def filled(tables: dict[str, pd.DataFrame]) -> duckdb.DuckDBPyConnection:
    """Return a connection with every canonical table, filled from the frames given."""
    connection = duckdb.connect()
    for name, table in WAREHOUSE_TABLE.items():
        columns = ", ".join(f"{column.name} {column.sql_type}" for column in columns_of(name))
        key = "job_key VARCHAR, " if table == "job" else ""
        connection.execute(f"CREATE TABLE {table} ({key}{columns}, file_id INTEGER, line BIGINT)")
        rows = tables.get(table)
        if rows is None or not len(rows):
            continue
        plain = rows.astype(object).where(rows.notna(), None)
        types = {column.name: column.sql_type for column in columns_of(name)}
        used = [column for column in plain.columns if plain[column].notna().any()]
        texts = plain[used].map(lambda value: None if value is None else str(value))
        casts = ", ".join(f"CAST({column} AS {types.get(column, 'VARCHAR')}) AS {column}" for column in used)
        connection.register("texts", texts.astype("string"))
        connection.execute(f"INSERT INTO {table} BY NAME SELECT {casts} FROM texts")
    return connection


def histories_by_sql(tables: dict[str, pd.DataFrame], settings: Settings) -> Histories:
    """Build the histories by SQL and return them in the oracle's shape."""
    connection = filled(tables)
    build(connection, settings)
    left_out = dict(connection.execute("SELECT kind, row_count FROM left_out").fetchall())
    log_start, log_end = connection.execute("SELECT log_start, log_end FROM history_setting").fetchall()[0]
    return Histories(
        attempts=_frame(connection, ATTEMPTS),
        spells=_frame(connection, SPELLS),
        module_lives=_frame(connection, LIVES),
        left_out={name: left_out[name] for name in LEFT_OUT},
        log_start=log_start,
        log_end=log_end,
    )


def _frame(connection: duckdb.DuckDBPyConnection, query: str) -> pd.DataFrame:
    found = connection.execute(query)
    names = [column[0] for column in found.description]
    return pd.DataFrame([list(row) for row in found.fetchall()], columns=names, dtype=object)


__all__ = ["LIFE_COLUMNS", "SPELL_COLUMNS", "filled", "histories_by_sql"]
