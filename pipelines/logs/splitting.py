"""Text lines → fields, with care: a quoted cell may go on over some lines, one that never closes costs only its own line."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pipelines.logs.refusal import Refusal

#: A note longer than this many lines is more likely a quotation mark that was forgotten.
MOST_LINES_A_CELL = 50
#: In a table this narrow a line of a remark may well have as many commas as a row.
_FEW_FIELDS = 6
_OPEN_QUOTE = Refusal(
    'a quotation mark (") opens in this line and never closes', "Close or remove it in this line and load again."
)


@dataclass(frozen=True)
class Record:
    """One row of text. line: the physical line on which it begins; refusal: why it is none."""

    line: int
    line_count: int
    fields: tuple[str, ...] | list[str]
    text: str = ""
    refusal: Refusal | None = None


def split(lines: Iterable[str], delimiter: str, *, width: int | None = None) -> Iterator[Record]:
    """Split physical lines into records. width: the number of fields a record over several lines must have to be one."""
    waiting: list[str] = []
    source = iter(lines)
    number = 1
    while True:
        first = waiting.pop(0) if waiting else next(source, None)
        if first is None:
            return
        if '"' not in first:
            yield Record(number, 1, first.rstrip("\r\n").split(delimiter))
            number += 1
            continue
        waiting.extend(itertools.islice(source, MOST_LINES_A_CELL - 1 - len(waiting)))
        record = _record([first, *waiting], delimiter, number, width)
        yield record
        number += record.line_count
        del waiting[: record.line_count - 1]


def _record(waiting: list[str], delimiter: str, number: int, width: int | None) -> Record:
    first = waiting[0].rstrip("\r\n")
    taken = _Taken(waiting)
    try:
        fields = next(csv.reader(taken, delimiter=delimiter), [])
    except csv.Error as error:
        long = Refusal(f"cannot be split into cells ({error})", "Correct this line and load again.")
        return Record(number, 1, (), first[:200], long)
    if taken.is_short or (taken.count > 1 and not _is_one_row(waiting[: taken.count], delimiter, width, len(fields))):
        return Record(number, 1, (), first[:200], _OPEN_QUOTE)
    return Record(number, taken.count, fields)


def _is_one_row(lines: list[str], delimiter: str, width: int | None, field_count: int) -> bool:
    """Tell a cell that goes on over lines from a forgotten quotation mark that swallows the rows below it."""
    if width is None:
        return True
    has_row_inside = width >= _FEW_FIELDS and any(line.count(delimiter) + 1 >= width for line in lines[1:])
    return field_count == width and not has_row_inside


class _Taken:
    """Gives lines to the csv reader, counts them, and knows when it wanted more than there are."""

    def __init__(self, lines: list[str]) -> None:
        self._lines = lines
        self.count = 0
        self.is_short = False

    def __iter__(self) -> _Taken:
        return self

    def __next__(self) -> str:
        if self.count >= len(self._lines):
            self.is_short = True
            raise StopIteration
        self.count += 1
        return self._lines[self.count - 1]
