"""What a whole sheet proves about its dates and numbers; looked up only when a cell needs it."""

from __future__ import annotations

from collections import Counter
from functools import cached_property

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.contract import Column, columns_of
from pipelines.errors import InputError
from pipelines.logs import dates
from pipelines.logs.dates import Order, Shown
from pipelines.logs.numbers import decimal_shown
from pipelines.logs.sheet import Leftovers, Sheet

_DATES = ("date", "datetime")
_NUMBERS = ("number", "money", "integer")


class Evidence:
    """The date order of each column and the decimal mark of a sheet."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        found = set(sheet.recognised.columns.values())
        columns = [column for column in columns_of(sheet.recognised.table) if column.name in found]
        self._dates = {column.name: column for column in columns if column.type in _DATES}
        self._numbers = [column.name for column in columns if column.type in _NUMBERS]

    def order(self, column: Column) -> Order:
        """Return how a column writes day and month. Raises InputError where nothing tells."""
        told = self._sheet.mapping.day_first
        if told is not None:
            return Order.DAY_FIRST if told else Order.MONTH_FIRST
        order = self._shown.get(column.name, Shown()).order
        if order != Order.UNKNOWN:
            return order
        known = {shown.order for shown in self._shown.values()} & {Order.DAY_FIRST, Order.MONTH_FIRST}
        if len(known) == 1:
            return known.pop()
        raise self._ambiguous(column)

    def has_serials(self, column: Column) -> bool:
        """Tell whether a bare 45678 is a day number here: in a workbook, or where the whole column is such numbers."""
        return self._sheet.is_workbook or self._shown.get(column.name, Shown()).is_serials

    @cached_property
    def decimal(self) -> str:
        """Return the decimal mark; it settles only what 1,250 or 1.250 means."""
        if self._sheet.mapping.decimal:
            return self._sheet.mapping.decimal
        if self._sheet.is_plain:
            return "."
        marks: Counter[str] = Counter()
        for batch in self._sheet.batches(Leftovers([]), names=self._numbers):
            for cells in batch.cells.values():
                for text, times in _counted(cells):
                    if mark := decimal_shown(text):
                        marks[mark] += times
        if marks:
            return marks.most_common(1)[0][0]
        return "," if self._sheet.dialect.delimiter == "semicolon" else "."

    def word(self) -> str:
        """Return the date order for the ledger, blank where no cell needed one."""
        told = self._sheet.mapping.day_first
        if told is not None and self._dates:
            return str(Order.DAY_FIRST if told else Order.MONTH_FIRST)
        if "_shown" not in self.__dict__:
            return str(Order.NONE_SEEN) if self._dates else ""
        return ", ".join(sorted({str(shown.order) for shown in self._shown.values() if shown.order != Order.UNKNOWN}))

    @cached_property
    def _shown(self) -> dict[str, Shown]:
        counts: dict[str, Counter[str]] = {name: Counter() for name in self._dates}
        for batch in self._sheet.batches(Leftovers([]), names=tuple(self._dates)):
            for name, cells in batch.cells.items():
                for text, times in _counted(cells):
                    counts[name][text] += times
        return {name: dates.shown_by(counted.items()) for name, counted in counts.items()}

    def _ambiguous(self, column: Column) -> InputError:
        text = self._shown[column.name].first_either
        refusal = dates.ambiguous(column, text)
        heading = next(word for word, name in self._sheet.recognised.understood.items() if name == column.name)
        place = f"{self._sheet.shown}, {self._line_of(column, text)}, column '{heading}'"
        return InputError(f"{place}: {refusal.reason}.", refusal.remedy)

    def _line_of(self, column: Column, text: str) -> str:
        for batch in self._sheet.batches(Leftovers([]), names=(column.name,)):
            place = pc.index(pc.utf8_trim_whitespace(batch.cells[column.name].cast(pa.string())), text).as_py()
            if place >= 0:
                return f"line {batch.lines[place]}"
        return "some line"


def _counted(cells: pa.Array) -> list[tuple[str, int]]:
    counts = pc.value_counts(cells.cast(pa.string()) if pa.types.is_dictionary(cells.type) else cells)
    return [(one["values"].as_py(), one["counts"].as_py()) for one in counts]
