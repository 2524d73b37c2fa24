"""The tables that a load fills: the contract's own, and those that say what became of every line."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from importlib.resources import files

import duckdb
import pyarrow as pa

from pipelines.contract import KEYS, WAREHOUSE_TABLE, columns_of

#: The tables of ledger_tables.sql, and the temporary one for jobs without an id.
OWN_TABLES = ("ledger", "set_aside", "loaded_column", "replaced_job", "alias_word", "unkeyed_job")
#: Rows with one key that differ in these are of two things, not of one written twice.
_SAME_THING = {"jobs": ("unit_id", "stick"), "part_batches": ("supplier",)}


def create(connection: duckdb.DuckDBPyConnection) -> None:
    """Make all tables, empty, with a comment on every column; those that are there stay as they are."""
    there = {row[0] for row in connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()}
    for table, stored in WAREHOUSE_TABLE.items():
        if stored not in there:
            _create_canonical(connection, table)
    if "ledger" not in there:
        connection.execute(sql("ledger_tables"))
    connection.execute(sql("mapping_file"))


def _create_canonical(connection: duckdb.DuckDBPyConnection, table: str) -> None:
    key = [
        ("made_key", "VARCHAR", "key of a job without an id (unit|stick|received_on|order) or of one stick of a row for both"),
        ("job_key", "VARCHAR GENERATED ALWAYS AS (coalesce(made_key, job_id))", "what makes the job the same again"),
    ]
    columns = [
        (column.name, column.sql_type, f"{column.meaning or column.name}{f' [{column.unit}]' if column.unit else ''}")
        for column in columns_of(table)
    ]
    origin = [("file_id", "INTEGER", "the file and sheet it came from, see ledger"), ("line", "BIGINT", "its line there")]
    made = [*(key if table == "jobs" else []), *columns, *origin]
    stored = WAREHOUSE_TABLE[table]
    connection.execute(sql("create_table", table=stored, made=", ".join(f'"{name}" {kind}' for name, kind, _ in made)))
    for name, _, text in made:
        connection.execute(sql("comment", table=stored, column=name, comment=text.replace("'", "''")))


def insert(connection: duckdb.DuckDBPyConnection, stored: str, rows: pa.Table | pa.RecordBatchReader) -> None:
    """Append rows to a warehouse table by column name; columns it has and `rows` lacks become blank."""
    if stored not in (*WAREHOUSE_TABLE.values(), *OWN_TABLES):
        raise KeyError(stored)
    connection.register("arriving", rows)
    connection.execute(sql("insert", table=stored, names=_listed(rows.schema.names)))
    connection.unregister("arriving")


@cache
def sql(name: str, /, **names: str) -> str:
    """Return the text of one SQL file of the intake, with names from the contract (never from an export) put in."""
    text = files("pipelines.logs").joinpath("sql", f"{name}.sql").read_text(encoding="utf-8")
    for placeholder, value in names.items():
        text = text.replace("{" + placeholder + "}", value)
    return text


@cache
def sql_for(name: str, table: str) -> str:
    """Return a SQL file about one contract table, with its names put in.

    {table} its warehouse table · {columns} all contract columns · {key} what makes a row the same again · {same_key}
    that the keys of `older` and `newer` are the same · {older_row}, {newer_row} what they say.
    """
    stored = WAREHOUSE_TABLE[table]
    key = ("job_key",) if table == "jobs" else KEYS[table]
    columns = [column.name for column in columns_of(table)]
    is_same = _same("older", "newer", _SAME_THING[table]) if table in _SAME_THING else "true"
    return sql(
        name,
        table=stored,
        columns=_listed(columns),
        key=_listed(key),
        same_key=_same("older", "newer", key),
        same_as_many=_same(stored, "older", key),
        older_row=_row("older", columns),
        newer_row=_row("newer", columns),
        is_other_thing=f"NOT ({is_same})",
    )


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def _same(one: str, other: str, key: Iterable[str]) -> str:
    return " AND ".join(f'{one}."{name}" IS NOT DISTINCT FROM {other}."{name}"' for name in key)


def _row(side: str, names: Iterable[str]) -> str:
    return "row(" + ", ".join(f'{side}."{name}"' for name in names) + ")"
