"""Parquet files as sheets: typed columns back to the text that the readers of cells know."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as parquet

from pipelines.contract import columns_of
from pipelines.errors import InputError
from pipelines.logs import headings
from pipelines.logs.headings import Recognised
from pipelines.logs.mapping import FileMapping
from pipelines.logs.opening import Opened
from pipelines.logs.sheet import Dialect, Leftovers, RawBatch, is_few_words

_EXACT = 1e15
_AT_ONCE = 100_000
_DIALECT = Dialect("parquet")


def sheet_of(opened: Opened, mapping: FileMapping) -> ColumnarSheet:
    """Return a Parquet file as a sheet whose line 1 is its first row. Raises InputError."""
    try:
        with parquet.ParquetFile(opened.path) as file:
            names, count = file.schema_arrow.names, file.metadata.num_rows
    except (pa.ArrowException, OSError) as error:
        raise _damaged(opened.shown, error) from error
    found = headings.recognise([names], mapping)
    if not isinstance(found, Recognised):
        raise headings.refused(opened.shown, found)
    return ColumnarSheet(opened.shown, found, mapping, opened.path, count)


@dataclass
class ColumnarSheet:
    """A Parquet file, read some rows at a time."""

    shown: str
    recognised: Recognised
    mapping: FileMapping
    path: Path
    lines_read: int
    name: str = ""
    dialect: Dialect = _DIALECT
    not_data: int = 0
    is_workbook: bool = False
    is_plain: bool = True

    def batches(self, left: Leftovers, *, names: Collection[str] | None = None) -> Iterator[RawBatch]:
        few = {column.name: is_few_words(column) for column in columns_of(self.recognised.table)}
        wanted = {name: place for place, name in self.recognised.columns.items() if names is None or name in names}
        line = 1
        try:
            with parquet.ParquetFile(self.path) as file:
                for block in file.iter_batches(_AT_ONCE, use_threads=False):
                    texts = {name: as_text(self.shown, block.column(place)) for name, place in wanted.items()}
                    cells = {name: text.dictionary_encode() if few[name] else text for name, text in texts.items()}
                    yield RawBatch(cells, np.arange(line, line + block.num_rows))
                    line += block.num_rows
        except (pa.ArrowException, OSError) as error:
            raise _damaged(self.shown, error) from error


def as_text(shown: str, column: pa.Array) -> pa.Array:
    """Return a column as text; 12.0 is 12, a date is ISO, true is yes. Raises InputError for lists and bytes."""
    kind = column.type
    if pa.types.is_dictionary(kind):
        return as_text(shown, column.cast(kind.value_type))
    if pa.types.is_nested(kind) or pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        raise InputError(f"{shown} has a column of lists or bytes ({kind}).", "Export plain columns.")
    if pa.types.is_boolean(kind):
        text = pc.if_else(column, "yes", "no")
    elif pa.types.is_floating(kind):
        text = _float_text(column)
    elif pa.types.is_timestamp(kind):
        text = pc.strftime(column.cast(pa.timestamp("s"), safe=False), format="%Y-%m-%d %H:%M:%S")
    elif pa.types.is_null(kind):
        text = pa.nulls(len(column), pa.string())
    else:
        text = column.cast(pa.string())
    return pc.fill_null(text.cast(pa.string()), "")


def _float_text(column: pa.Array) -> pa.Array:
    column = column.cast(pa.float64())
    column = pc.if_else(pc.is_finite(column), column, pa.scalar(None, pa.float64()))
    is_whole = pc.all(pc.and_(pc.equal(column, pc.round(column)), pc.less(pc.abs(column), _EXACT))).as_py()
    return column.cast(pa.int64()).cast(pa.string()) if is_whole is not False else column.cast(pa.string())


def _damaged(shown: str, error: Exception) -> InputError:
    return InputError(f"{shown} is a damaged Parquet file ({str(error).splitlines()[0][:120]}).", "Export it again.")
