"""The column contract: which tables and columns an export may hold, and what each means.

`contract.csv` is the contract itself (one row a column); the data screen prints it. Types: string, code, date,
datetime, number, integer, money, boolean. Need: R required, S strongly wanted, O optional.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files

from pipelines.vocabulary import CODES

#: What makes a row of a table the same thing again. A job without an id is known by unit, stick, day and order;
#: what a later file tells of a unit, stick and day is all of that day's jobs.
KEYS: dict[str, tuple[str, ...]] = {
    "jobs": ("job_id",),
    "units": ("unit_id",),
    "lots": ("lot_id", "family"),
    "part_batches": ("batch_id",),
    "batch_inspections": ("batch_id", "inspected_on", "characteristic"),
    "usage_readings": ("unit_id", "read_on"),
    "downtime": ("station_id", "down_from"),
    "assignments": ("unit_id", "station_id", "from_at"),
    "prices": ("key", "kind", "valid_from"),
    "sales": ("unit_id", "sold_on"),
    "limits": ("limit_set", "measure", "family", "valid_from"),
    "repeat_readings": ("unit_id", "stick", "technician", "measure", "trial"),
    "aliases": ("kind", "raw"),
}

#: The warehouse table that holds each kind of row (one row = one thing, so the name is singular).
WAREHOUSE_TABLE: dict[str, str] = {
    "jobs": "job",
    "units": "unit",
    "lots": "lot",
    "part_batches": "part_batch",
    "batch_inspections": "batch_inspection",
    "usage_readings": "usage_reading",
    "downtime": "downtime",
    "assignments": "assignment",
    "prices": "price",
    "sales": "sale",
    "limits": "limit_row",
    "repeat_readings": "repeat_reading",
    "aliases": "alias",
}

SQL_TYPE: dict[str, str] = {
    "string": "VARCHAR",
    "code": "VARCHAR",
    "date": "DATE",
    "datetime": "TIMESTAMP",
    "number": "DOUBLE",
    "money": "DOUBLE",
    "integer": "BIGINT",
    "boolean": "BOOLEAN",
}


@dataclass(frozen=True)
class Column:
    """One column of the contract."""

    table: str
    name: str
    type: str
    unit: str
    need: str
    allowed: str
    meaning: str
    also_called: tuple[str, ...]

    @property
    def is_required(self) -> bool:
        return self.need == "R"

    @property
    def sql_type(self) -> str:
        return SQL_TYPE[self.type]

    @property
    def codes(self) -> type[StrEnum] | None:
        """The enum of a coded column, else None."""
        if self.type != "code":
            return None
        return CODES.get(f"{self.table}.{self.name}") or CODES[self.name]


@cache
def columns_of(table: str) -> tuple[Column, ...]:
    """Return the columns of one table, in the contract's order. Raises KeyError for a table it does not know."""
    found = tuple(column for column in contract() if column.table == table)
    if not found:
        raise KeyError(table)
    return found


@cache
def contract() -> tuple[Column, ...]:
    """Return every column of every table."""
    text = files("pipelines").joinpath("contract.csv").read_text(encoding="utf-8")
    return tuple(_column(row) for row in csv.DictReader(text.splitlines()))


def _column(row: dict[str, str]) -> Column:
    words = tuple(word.strip() for word in row["also_called"].split("|") if word.strip())
    return Column(**{**row, "also_called": words})
