"""One file whole: every line of a table in its order, as text, whether it is understood or not. For work that gives it back."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as parquet

from pipelines.contract import columns_of
from pipelines.errors import InputError
from pipelines.logs import books, columnar, text
from pipelines.logs.finding import Export
from pipelines.logs.mapping import FileMapping
from pipelines.logs.opening import Opened, open_export
from pipelines.logs.sheet import Sheet
from pipelines.logs.splitting import split


@dataclass(frozen=True)
class Whole:
    """rows: all lines, the heading row at place `heading`; sheet: its table, for what the columns are and how numbers are
    written; others: sheets of the workbook that are not in it.
    """

    rows: list[list[str]]
    heading: int
    sheet: Sheet
    others: list[str] = field(default_factory=list)


def read_whole(path: Path, scratch: Path, mapping: FileMapping, *, table: str) -> Whole:
    """Read a CSV, a workbook's first sheet of that table, or a Parquet file; no column is required. scratch: a folder for
    unpacked copies, which must stand as long as the result is used. Raises InputError.
    """
    opened = open_export(Export(path, path.name), scratch)
    fixed = {column.name: "" for column in columns_of(table) if column.is_required} | mapping.fixed
    mapping = FileMapping(**{**vars(mapping), "table": table, "fixed": fixed})
    if opened.kind == "book":
        return _of_book(opened, mapping)
    if opened.kind == "parquet":
        sheet = columnar.sheet_of(opened, mapping)
        try:
            block = parquet.read_table(opened.path)
        except (pa.ArrowException, OSError) as error:
            raise InputError(f"{opened.shown} is a damaged Parquet file.", "Export it again.") from error
        cells = [columnar.as_text(opened.shown, column.combine_chunks()).to_pylist() for column in block.columns]
        return Whole([list(block.schema.names), *map(list, zip(*cells, strict=True))], 0, sheet)
    sheet = text.sheet_of(opened, scratch, mapping)
    return _of_text(sheet)


def _of_book(opened: Opened, mapping: FileMapping) -> Whole:
    sheets, _ = books.sheets_of(opened, mapping)
    first, rows = sheets[0], dict(books.every_sheet(opened))
    others = [name for name, cells in rows.items() if name != first.name and any(cell for row in cells for cell in row)]
    return Whole(rows[first.name], first.not_data - 1, first, others)


def _of_text(sheet: Sheet) -> Whole:
    regular = getattr(sheet, "quick", sheet)
    with open(regular.text.path, encoding="utf-8-sig", newline="") as source:
        lines = list(source)
    records = list(split(lines, regular.delimiter, width=regular.width))
    heading = next(place for place, one in enumerate(records) if one.line + one.line_count - 1 == sheet.not_data)
    rows = [list(one.fields) if one.refusal is None else [lines[one.line - 1].rstrip("\r\n")] for one in records]
    return Whole(rows, heading, sheet)
