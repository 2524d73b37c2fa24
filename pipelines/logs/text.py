"""Text files as sheets: delimiter and heading row found, rows read quickly where the file is regular, else with care."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as arrow_csv

from pipelines.contract import columns_of
from pipelines.errors import InputError
from pipelines.logs import headings
from pipelines.logs.decoding import Text, as_text
from pipelines.logs.headings import Recognised
from pipelines.logs.mapping import FileMapping
from pipelines.logs.opening import Opened
from pipelines.logs.sheet import Dialect, Leftovers, Misfit, RawBatch, Sheet, as_cells, is_few_words, wrong_width
from pipelines.logs.splitting import Record, split

_DELIMITERS = (",", ";", "\t", "|")
_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_HEAD = 400
#: Arrow splits small blocks faster, the warehouse takes large batches faster.
_BLOCK = 1 << 20
_BLOCKS_A_BATCH = 8


def sheet_of(opened: Opened, scratch: Path, mapping: FileMapping) -> Sheet:
    """Return the one sheet of a text file. Raises InputError."""
    text = as_text(opened, scratch, encoding=mapping.encoding)
    delimiter, recognised, head = _found(opened.shown, text, mapping)
    heading = head[recognised.row]
    width = _width(head[recognised.row :])
    dialect = Dialect(text.encoding, _NAMES[delimiter])
    not_data = heading.line + heading.line_count - 1
    quick = TextSheet(opened.shown, "", recognised, mapping, dialect, text, delimiter, width, not_data)
    if text.needs_care or not_data != recognised.row + 1 or (text.has_quotes and not quick.is_straight()):
        return CarefulSheet(quick)
    return quick


def _found(shown: str, text: Text, mapping: FileMapping) -> tuple[str, Recognised, list[Record]]:
    best: tuple[tuple[int, int], str, object, list[Record]] | None = None
    for delimiter in [mapping.delimiter] if mapping.delimiter else _delimiters_in(text):
        with _lines(text) as lines:
            head = list(itertools.islice(split(lines, delimiter), _HEAD))
        found = headings.recognise([record.fields for record in head], mapping)
        rank = (isinstance(found, Recognised), 0 if found is None else len(getattr(found, "columns", ())) or 1)
        if best is None or rank > best[0]:
            best = (rank, delimiter, found, head)
    _, delimiter, found, head = best
    if not isinstance(found, Recognised):
        raise headings.refused(shown, found)
    return delimiter, found, head


def _delimiters_in(text: Text) -> list[str]:
    """Return the delimiters that occur near the top; a table of one column has none, and any will do."""
    with _lines(text) as lines:
        head = "".join(itertools.islice(lines, _HEAD))
    return [delimiter for delimiter in _DELIMITERS if delimiter in head] or [_DELIMITERS[0]]


def _width(records: list[Record]) -> int:
    """Return the fields a row has: those of the heading row, or more where each row ends in the same empty ones."""
    heading, *rows = (record.fields for record in records if any(record.fields))
    width = min((len(row) for row in rows), default=0)
    if width <= len(heading):
        return len(heading)
    is_empty = [not any(cell.strip() for cell in row[len(heading) :]) for row in rows]
    return width if sum(is_empty) > len(rows) / 2 else len(heading)


def _lines(text: Text):
    return open(text.path, encoding="utf-8-sig", newline="")


@dataclass
class TextSheet:
    """A regular text file, read in blocks by Arrow; each row is one physical line."""

    shown: str
    name: str
    recognised: Recognised
    mapping: FileMapping
    dialect: Dialect
    text: Text
    delimiter: str
    width: int
    not_data: int
    is_workbook: bool = False

    @property
    def lines_read(self) -> int:
        return self.text.line_count

    @property
    def is_plain(self) -> bool:
        """Commas between cells and none inside: numbers can only have decimal points."""
        return self.delimiter == "," and not self.text.has_quotes

    def is_straight(self) -> bool:
        """Tell whether rows and physical lines are the same, in spite of quotes."""
        left = Leftovers([])
        first = next(iter(self.recognised.columns.values()))
        count = sum(len(batch.lines) for batch in self.batches(left, names=(first,)))
        return count + len(left.misfits) + self.not_data == self.lines_read

    def batches(self, left: Leftovers, *, names: Collection[str] | None = None) -> Iterator[RawBatch]:
        if self.lines_read == self.not_data:
            return
        extra = [f"c{place}" for place in range(len(self.recognised.headings), self.width)]
        wanted = {f"c{place}": name for place, name in self.recognised.columns.items() if names is None or name in names}
        few = {column.name: is_few_words(column) for column in columns_of(self.recognised.table)}
        lines, misfit_lines = _LineNumbers(self.not_data), []

        def set_aside(row: arrow_csv.InvalidRow) -> str:
            misfit_lines.append(row.number)
            left.misfits.append(Misfit(row.number, row.text[:200], wrong_width(row.actual_columns, self.width)))
            return "skip"

        for block in self._blocks(wanted, extra, few, set_aside):
            numbers = lines.of(block.num_rows, misfit_lines)
            if extra:
                block, numbers = self._without_shifted(block, numbers, extra, left)
            yield RawBatch({name: _whole(block.column(place)) for place, name in wanted.items()}, numbers)

    def _blocks(self, wanted: dict[str, str], extra: list[str], few: dict[str, bool], set_aside) -> Iterator[pa.Table]:
        names = [f"c{place}" for place in range(self.width)]
        dictionary = pa.dictionary(pa.int32(), pa.string())
        types = {place: dictionary if few[name] else pa.string() for place, name in wanted.items()}
        try:
            reader = arrow_csv.open_csv(
                self.text.path,
                read_options=arrow_csv.ReadOptions(
                    use_threads=False, block_size=_BLOCK, skip_rows=self.not_data, column_names=names),
                parse_options=arrow_csv.ParseOptions(
                    delimiter=self.delimiter, ignore_empty_lines=False, invalid_row_handler=set_aside),
                convert_options=arrow_csv.ConvertOptions(
                    column_types=types | dict.fromkeys(extra, pa.string()), include_columns=[*wanted, *extra],
                    strings_can_be_null=False),
            )  # fmt: skip
            while blocks := list(itertools.islice(reader, _BLOCKS_A_BATCH)):
                yield pa.Table.from_batches(blocks).unify_dictionaries().combine_chunks()
        except pa.ArrowInvalid as error:
            raise InputError(
                f"{self.shown} cannot be split into lines ({str(error).splitlines()[0][:160]}).",
                "Look for a cell of many thousand letters, and export the file again.",
            ) from error

    def _without_shifted(self, block, numbers, extra: list[str], left: Leftovers):
        """Set aside rows with something in the fields beyond the heading row: their cells have moved to the right."""
        moved = np.zeros(block.num_rows, bool)
        for place in extra:
            moved |= np.array([bool(text.strip()) for text in block.column(place).to_pylist()], bool)
        for line in numbers[moved].tolist():
            left.misfits.append(Misfit(line, "", wrong_width(self.width, len(self.recognised.headings))))
        return block.filter(pa.array(~moved)), numbers[~moved]


def _whole(column: pa.ChunkedArray) -> pa.Array:
    return column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()


class _LineNumbers:
    """Numbers the rows that Arrow gives: those it skipped keep their own numbers."""

    def __init__(self, before: int) -> None:
        self._next = before + 1
        self._skipped = 0

    def of(self, count: int, skipped: list[int]) -> np.ndarray:
        gaps = skipped[self._skipped :]
        numbers = np.arange(self._next, self._next + count + len(gaps))
        if gaps:
            numbers = numbers[~np.isin(numbers, gaps)]
        numbers = numbers[:count]
        last = int(numbers[-1]) if count else self._next - 1
        self._next = last + 1
        self._skipped += sum(1 for line in gaps if line <= last)
        return numbers


@dataclass
class CarefulSheet:
    """An irregular text file: cells that go on over lines, quotes that never close, lone carriage returns."""

    quick: TextSheet
    is_workbook: bool = False
    is_plain: bool = False

    _AT_ONCE = 50_000

    def __post_init__(self) -> None:
        quick = self.quick
        self.shown, self.name, self.recognised, self.mapping = quick.shown, "", quick.recognised, quick.mapping
        self.dialect, self.lines_read, self.not_data = quick.dialect, quick.lines_read, quick.not_data

    def batches(self, left: Leftovers, *, names: Collection[str] | None = None) -> Iterator[RawBatch]:
        with _lines(self.quick.text) as source:
            records = self._rows(split(source, self.quick.delimiter, width=self.quick.width), left)
            while taken := list(itertools.islice(records, self._AT_ONCE)):
                lines = np.array([record.line for record in taken], np.int64)
                yield RawBatch(as_cells(self.recognised, [record.fields for record in taken], names), lines)

    def _rows(self, records: Iterable[Record], left: Leftovers) -> Iterator[Record]:
        width, heading_count = self.quick.width, len(self.recognised.headings)
        for record in records:
            if record.line <= self.not_data:
                continue
            left.further_lines += record.line_count - 1
            if record.refusal:
                left.misfits.append(Misfit(record.line, record.text, record.refusal))
            elif len(record.fields) != width:
                text = self.quick.delimiter.join(record.fields)[:200]
                left.misfits.append(Misfit(record.line, text, wrong_width(len(record.fields), width)))
            elif width > heading_count and any(cell.strip() for cell in record.fields[heading_count:]):
                left.misfits.append(Misfit(record.line, "", wrong_width(width, heading_count)))
            else:
                yield record
