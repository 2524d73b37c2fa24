"""Which rows may be loaded: a row is set aside when what it lacks or garbles would change a history, else kept."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipelines.contract import Column, columns_of
from pipelines.errors import SettingError
from pipelines.logs.headings import Recognised
from pipelines.logs.reading import ARROW_TYPE, ColumnReader, ReadColumn
from pipelines.logs.refusal import Refusal
from pipelines.logs.sheet import RawBatch
from pipelines.logs.spelling import fold, is_blank

#: Coded and counted columns that change a history; every required column and every date does too.
_DECISIVE = frozenset((
    "stick", "visit_reason", "finding", "action", "outcome", "life_known_from", "new_or_used", "out_reason",
    "return_reason", "warranty_days", "meter_reset",
))  # fmt: skip
#: table → pairs (later, earlier) that must not be the other way round.
_ORDER = {
    "jobs": (("closed_on", "received_on"), ("returned_to_service_on", "received_on")),
    "units": (("out_of_service_on", "in_service_on"),),
    "sales": (("returned_on", "sold_on"),),
    "assignments": (("to_at", "from_at"),),
    "downtime": (("down_to", "down_from"),),
}
_TOTAL = r"(?i)^\s*((grand|sub|page)[ -]?)?(totals?|sums?|subtotals?|averages?|mean|count|summe|gesamt)\b.{0,40}$"
_UNIT_WORDS = frozenset((
    "h", "hr", "hrs", "hours", "min", "mins", "minutes", "d", "day", "days", "wk", "week", "pct", "percent", "half", "scale",
    "span", "of", "eur", "usd", "gbp", "chf", "currency", "mm", "yy", "yyyy", "dd", "iso", "date", "text", "string", "free",
    "number", "code", "y", "n", "yes", "no", "count", "pcs", "id", "l", "r", "s", "b", "ms", "v", "ohm", "cycles", "unit",
    "units",
))  # fmt: skip


@dataclass(frozen=True)
class Finding:
    """One cell or row that could not be used. is_row: the whole row was set aside, else only that cell was blanked."""

    line: int
    column: str
    value: str
    refusal: Refusal
    is_row: bool


@dataclass
class CheckedRows:
    """Typed rows to load, with their lines, and what became of the others."""

    table: pa.Table
    before_alias: dict[str, pa.Array]
    findings: list[Finding] = field(default_factory=list)
    set_aside: int = 0
    blank: int = 0
    not_data: int = 0


class RowChecker:
    """Reads and checks the batches of one sheet."""

    def __init__(
        self, recognised: Recognised, readers: Mapping[str, ColumnReader], fixed: Mapping[str, str], *, units_line: int
    ) -> None:
        """units_line: the line below the heading row, where some sheets write units."""
        self._columns = columns_of(recognised.table)
        self._recognised = recognised
        self._readers = readers
        self._units_line = units_line
        self._fixed = {name: _fixed_value(name, readers[name], text) for name, text in fixed.items() if name in readers}

    def check(self, batch: RawBatch) -> CheckedRows:
        """Return the rows of a batch that may be loaded, and findings for the rest."""
        count = len(batch.lines)
        read = {name: self._readers[name].read(raw) for name, raw in batch.cells.items()}
        for name, raw in batch.cells.items():
            self._readers[name].place_currencies(raw, batch.lines)
        for name, value in self._fixed.items():
            if name not in read:
                read[name] = ReadColumn(pa.array([value] * count, ARROW_TYPE[self._readers[name].column.type]))
        read = self._with_open_jobs(read)
        because = self._because(read, count)
        is_out = np.zeros(count, bool)
        for mask, _ in because:
            is_out |= mask
        checked = CheckedRows(_kept(read, batch.lines, is_out), _kept_words(read, is_out))
        if is_out.any():
            self._tell_apart(checked, batch, read, because, is_out)
        self._list_blanked(checked, batch, read, is_out)
        return checked

    def _with_open_jobs(self, read: dict[str, ReadColumn]) -> dict[str, ReadColumn]:
        """A job without outcome is open when it is not closed either."""
        outcome = read.get("outcome")
        if self._recognised.table != "jobs" or outcome is None or outcome.values.null_count == 0:
            return read
        is_open = _is_blank(outcome)
        if closed := read.get("closed_on"):
            is_open &= _is_blank(closed)
        is_open &= ~_all_blank(read, len(is_open), besides=("outcome",))
        values = pc.if_else(pa.array(is_open), pa.scalar("open"), outcome.plain()).cast(outcome.values.type)
        return read | {"outcome": ReadColumn(values, outcome.is_bad, outcome.before_alias)}

    def _because(self, read: dict[str, ReadColumn], count: int) -> list[tuple[np.ndarray, Column | tuple[Column, Column]]]:
        """Return (rows, column at fault or pair of dates in the wrong order), in the contract's order."""
        found: list[tuple[np.ndarray, Column | tuple[Column, Column]]] = []
        by_name = {column.name: column for column in self._columns}
        for column in self._columns:
            if (one := read.get(column.name)) is None:
                continue
            if column.is_required and one.values.null_count:
                found.append((one.values.is_null().to_numpy(zero_copy_only=False), column))
            elif one.is_bad is not None and (column.name in _DECISIVE or column.type in ("date", "datetime")):
                found.append((one.is_bad, column))
        for later, earlier in _ORDER.get(self._recognised.table, ()):
            if later in read and earlier in read:
                wrong = pc.fill_null(pc.less(read[later].plain(), read[earlier].plain()), False)
                if pc.any(wrong).as_py():
                    found.append((wrong.to_numpy(zero_copy_only=False), (by_name[later], by_name[earlier])))
        return found

    def _tell_apart(self, checked: CheckedRows, batch: RawBatch, read, because, is_out: np.ndarray) -> None:
        """Tell blank lines, headings given again, totals and unit rows from rows that are set aside."""
        blank = is_out & _all_blank({name: read[name] for name in batch.cells}, len(is_out))
        rows = np.flatnonzero(is_out & ~blank)
        no_data = rows[self._is_no_data(batch, rows)]
        is_aside = is_out & ~blank
        is_aside[no_data] = False
        checked.blank, checked.not_data, checked.set_aside = int(blank.sum()), len(no_data), int(is_aside.sum())
        told = ~is_aside
        for mask, fault in because:
            for place in np.flatnonzero(mask & ~told).tolist():
                checked.findings.append(self._finding(batch, read, place, fault))
            told |= mask

    def _finding(self, batch: RawBatch, read, place: int, fault: Column | tuple[Column, Column]) -> Finding:
        line = int(batch.lines[place])
        if isinstance(fault, tuple):
            later, earlier = fault
            value = _raw(batch, later.name, place)
            refusal = Refusal(
                f"{later.name} {read[later.name].values[place].as_py()} is before "
                f"{earlier.name} {read[earlier.name].values[place].as_py()}",
                f"Correct one of the two dates, or leave {later.name} blank.",
            )
            return Finding(line, later.name, value, refusal, is_row=True)
        value = _raw(batch, fault.name, place) if fault.name in batch.cells else ""
        said = self._readers[fault.name].of(value) if value or fault.name in batch.cells else None
        if not isinstance(said, Refusal):
            said = Refusal(f"{fault.name} is blank", f"Fill it in and export again: {fault.meaning or fault.name}.")
        return Finding(line, fault.name, value[:200], said, is_row=True)

    def _list_blanked(self, checked: CheckedRows, batch: RawBatch, read, is_out: np.ndarray) -> None:
        for name, one in read.items():
            if one.is_bad is None:
                continue
            for place in np.flatnonzero(one.is_bad & ~is_out).tolist():
                value = _raw(batch, name, place)
                checked.findings.append(
                    Finding(int(batch.lines[place]), name, value[:200], self._readers[name].of(value), is_row=False)
                )

    def _is_no_data(self, batch: RawBatch, rows: np.ndarray) -> np.ndarray:
        """Tell, for each row that fails, whether it is a heading given again, a total or a row of units."""
        picked = {name: raw.take(pa.array(rows)).cast(pa.string()) for name, raw in batch.cells.items()}
        is_total = np.zeros(len(rows), bool)
        for texts in picked.values():
            is_total |= pc.match_substring_regex(texts, _TOTAL).to_numpy(zero_copy_only=False)
        headings = {name: fold(self._recognised.headings[place]) for place, name in self._recognised.columns.items()}
        result = is_total & self._lacks_required(picked, len(rows))
        for spot in range(len(rows)):
            if result[spot] or not (batch.lines[rows[spot]] == self._units_line or self._may_be_heading(picked, headings, spot)):
                continue
            cells = {name: texts[spot].as_py() for name, texts in picked.items()}
            filled = {name: text for name, text in cells.items() if not is_blank(text)}
            result[spot] = sum(fold(text) == headings[name] for name, text in filled.items()) > len(filled) / 2 or (
                batch.lines[rows[spot]] == self._units_line and _is_units_row(filled)
            )
        return result

    def _may_be_heading(self, picked: dict[str, pa.Array], headings: dict[str, str], spot: int) -> bool:
        name = next(column.name for column in self._columns if column.is_required and column.name in picked)
        text = picked[name][spot].as_py()
        return len(text) < 100 and fold(text) == headings[name]

    def _lacks_required(self, picked: dict[str, pa.Array], count: int) -> np.ndarray:
        lacks = np.zeros(count, bool)
        for column in self._columns:
            if column.is_required and column.name in picked:
                lacks |= pc.equal(pc.utf8_trim_whitespace(picked[column.name]), "").to_numpy(zero_copy_only=False)
        return lacks


def _fixed_value(name: str, reader: ColumnReader, text: str) -> object:
    value = reader.of(text)
    if isinstance(value, Refusal):
        raise SettingError(f"In the mapping file, [fixed] {name}: {value.reason}.", value.remedy)
    return value


def is_total(line: str) -> bool:
    """Tell whether a line of another width is a total."""
    return any(re.match(_TOTAL, part.strip(' "')) for part in re.split(r"[,;\t|]", line)[:3])


def _is_blank(one: ReadColumn) -> np.ndarray:
    is_blank_cell = one.values.is_null().to_numpy(zero_copy_only=False)
    return is_blank_cell if one.is_bad is None else is_blank_cell & ~one.is_bad


def _all_blank(read: Mapping[str, ReadColumn], count: int, *, besides: tuple[str, ...] = ()) -> np.ndarray:
    blank = np.ones(count, bool)
    for name, one in read.items():
        if name not in besides:
            blank &= _is_blank(one)
    return blank


def _is_units_row(filled: Mapping[str, str]) -> bool:
    return bool(filled) and all(
        set(re.sub(r"[^a-z]+", " ", text.casefold()).split()) <= _UNIT_WORDS and not any(c.isdigit() for c in text)
        for text in filled.values()
    )


def _raw(batch: RawBatch, name: str, place: int) -> str:
    return batch.cells[name][place].as_py() or ""


def _kept(read: Mapping[str, ReadColumn], lines: np.ndarray, is_out: np.ndarray) -> pa.Table:
    table = pa.table({name: one.values for name, one in read.items()} | {"line": pa.array(lines, pa.int64())})
    return table.filter(pa.array(~is_out)) if is_out.any() else table


def _kept_words(read: Mapping[str, ReadColumn], is_out: np.ndarray) -> dict[str, pa.Array]:
    words = {name: one.before_alias for name, one in read.items() if one.before_alias is not None}
    return {name: word.filter(pa.array(~is_out)) for name, word in words.items()}
