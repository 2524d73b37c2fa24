"""A sheet: a table in a file, given in batches of text columns with the line each row stands on."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import pyarrow as pa

from pipelines.contract import Column, columns_of
from pipelines.logs.headings import Recognised
from pipelines.logs.mapping import FileMapping
from pipelines.logs.refusal import Refusal

#: Text columns with few different words, kept as dictionaries: each word is then read once a batch.
_FEW_WORDS = frozenset((
    "family", "site_id", "station_id", "technician", "part_batch_found", "part_batch_fitted", "lot_id", "limit_set",
    "seller", "supplier", "part_type", "batch_id", "characteristic", "key",
))  # fmt: skip


@dataclass(frozen=True)
class RawBatch:
    """Rows as text. cells: column → text or dictionary array; lines: the physical line (or sheet row) of each."""

    cells: dict[str, pa.Array]
    lines: np.ndarray


@dataclass(frozen=True)
class Misfit:
    """A line that is no row of the table: it has too many or too few fields, or a quotation mark that stays open."""

    line: int
    text: str
    refusal: Refusal


@dataclass(frozen=True)
class Dialect:
    """How a file is written, in the words of the report; blank where it does not apply."""

    encoding: str = ""
    delimiter: str = ""


@dataclass
class Leftovers:
    """What one pass over a sheet found besides rows. further_lines: lines on which a quoted cell goes on."""

    misfits: list[Misfit]
    further_lines: int = 0


class Sheet(Protocol):
    """One table of one file. lines_read counts every line; not_data those up to and with the heading row."""

    shown: str
    name: str
    recognised: Recognised
    mapping: FileMapping
    dialect: Dialect
    lines_read: int
    not_data: int
    is_workbook: bool
    is_plain: bool

    def batches(self, left: Leftovers, *, names: Collection[str] | None = None) -> Iterator[RawBatch]:
        """Give the rows, all columns or those in `names`; put what is no row into `left`. May be called again."""


def is_few_words(column: Column) -> bool:
    """Tell whether a column is kept as a dictionary."""
    return column.type in ("code", "date", "boolean") or column.name in _FEW_WORDS


@dataclass
class RowsSheet:
    """A sheet held in memory as rows of text: workbooks."""

    shown: str
    name: str
    recognised: Recognised
    mapping: FileMapping
    dialect: Dialect
    rows: Sequence[Sequence[str]]
    lines: np.ndarray
    lines_read: int
    not_data: int
    is_workbook: bool = False
    is_plain: bool = False

    _AT_ONCE = 50_000

    def batches(self, left: Leftovers, *, names: Collection[str] | None = None) -> Iterator[RawBatch]:
        for start in range(0, len(self.rows), self._AT_ONCE):
            rows = self.rows[start : start + self._AT_ONCE]
            yield RawBatch(as_cells(self.recognised, rows, names), self.lines[start : start + self._AT_ONCE])


def as_cells(recognised: Recognised, rows: Sequence[Sequence[str]], names: Collection[str] | None) -> dict[str, pa.Array]:
    """Return rows of text as columns, all that are understood or those in `names`."""
    few = {column.name: is_few_words(column) for column in columns_of(recognised.table)}
    columns = list(zip(*rows, strict=True))
    cells = {}
    for place, name in recognised.columns.items():
        if names is None or name in names:
            texts = pa.array(columns[place], pa.string())
            cells[name] = texts.dictionary_encode() if few[name] else texts
    return cells


def wrong_width(count: int, expected: int) -> Refusal:
    """Say that a line has more or fewer fields than the heading row."""
    return Refusal(
        f"has {count} fields, the heading row has {expected}",
        "Look for a stray separator or a missing quotation mark in this line, correct it and load again.",
    )
