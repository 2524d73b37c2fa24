"""The ledger: what was loaded when, from which file, and what became of its lines."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import duckdb
import pyarrow as pa

from pipelines.logs.report import SheetReport
from pipelines.logs.tables import insert, sql


@dataclass
class Load:
    """One load. load_id counts loads, file_id counts files and sheets over all loads."""

    load_id: int
    loaded_at: dt.datetime
    last_file_id: int

    def next_file_id(self) -> int:
        self.last_file_id += 1
        return self.last_file_id


def begin(connection: duckdb.DuckDBPyConnection) -> Load:
    """Return the numbers for the load that begins."""
    load_id, file_id = connection.execute(sql("last_numbers")).fetchall()[0]
    return Load(load_id + 1, dt.datetime.now().replace(microsecond=0), file_id)


def is_known(connection: duckdb.DuckDBPyConnection, sha256: str, read_with: str) -> bool:
    """Tell whether the very same file was loaded before, with the same mapping and word aliases."""
    query = "SELECT 1 FROM ledger WHERE sha256 = ? AND read_with = ? LIMIT 1"
    return bool(connection.execute(query, [sha256, read_with]).fetchall())


def forget_findings(connection: duckdb.DuckDBPyConnection, sha256: str) -> None:
    """Drop what an earlier reading of the same file set aside: it is about to be read anew."""
    connection.execute(sql("forget_findings"), [sha256])


def enter(
    connection: duckdb.DuckDBPyConnection, report: SheetReport, load: Load, file_id: int, *, sha256: str, read_with: str
) -> None:
    """Write one file and sheet into the ledger."""
    counts = ("lines_read", "loaded", "set_aside", "repeated", "replaced", "blank", "not_data", "cells_blanked")
    row = {
        "load_id": load.load_id, "loaded_at": load.loaded_at, "file_id": file_id, "file": report.file,
        "sheet": report.sheet, "sha256": sha256, "read_with": read_with, "table_name": report.table,
        "encoding": report.encoding, "delimiter": report.delimiter, "decimal_mark": report.decimal_mark,
        "date_order": report.date_order, "not_understood": "|".join(report.not_understood),
        "missing_wanted": "|".join(report.missing_wanted),
    } | {name: getattr(report, name) for name in counts}  # fmt: skip
    insert(connection, "ledger", pa.Table.from_pylist([row]))


def keep_mapping(connection: duckdb.DuckDBPyConnection, digest: str, text: str) -> None:
    """Keep a mapping file, so that the same files can be read the same way again."""
    connection.execute("INSERT OR IGNORE INTO mapping_file VALUES (?, ?)", [digest, text])


def first_set_aside(connection: duckdb.DuckDBPyConnection) -> tuple:
    """Return file, sheet, line, column, value, reason and remedy of the first row set aside in the latest load."""
    return connection.execute(sql("first_set_aside")).fetchall()[0]
