"""Text cells → typed cells, a column at a time: what Arrow reads surely it reads at once, each other word is read once."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipelines.contract import Column
from pipelines.logs.dates import DateReader
from pipelines.logs.evidence import Evidence
from pipelines.logs.numbers import NumberReader
from pipelines.logs.quick import QUICK
from pipelines.logs.refusal import Refusal
from pipelines.logs.spelling import fold, is_blank, is_no_batch
from pipelines.logs.words import CodeReader, list_name

ARROW_TYPE: dict[str, pa.DataType] = {
    "string": pa.string(), "code": pa.string(), "date": pa.date32(),
    "datetime": pa.timestamp("us"), "number": pa.float64(), "money": pa.float64(), "integer": pa.int64(),
    "boolean": pa.bool_(),
}  # fmt: skip
_NO_PLACE = pa.scalar(None, pa.int32())
_LOST_DIGITS = re.compile(r"\d(?:[.,]\d+)?E\+?\d+", re.IGNORECASE)
_YES = frozenset(("yes", "y", "true", "t", "1", "x", "ja", "oui", "si"))
_NO = frozenset(("no", "n", "false", "f", "0", "nein", "non"))
#: Columns that hold the code of a batch.
_BATCH_COLUMNS = frozenset(("batch_id", "part_batch_found", "part_batch_fitted"))


class Reader(Protocol):
    """Reads one cell: its value, None for a blank, or a Refusal."""

    def of(self, text: str) -> object: ...


@dataclass(frozen=True)
class ReadColumn:
    """values: typed (a dictionary where the cells came as one), null where blank or unreadable.

    is_bad: true where unreadable, None where all could be read; before_alias: the word in the file where an alias replaced it,
    else null; None where none did.
    """

    values: pa.Array
    is_bad: np.ndarray | None = None
    before_alias: pa.Array | None = None

    def plain(self) -> pa.Array:
        """Return the values without a dictionary, so that they can be compared."""
        return self.values.dictionary_decode() if pa.types.is_dictionary(self.values.type) else self.values


class TextReader:
    """Reads names and ids as they stand, after the user's aliases."""

    def __init__(self, column: Column, aliases: Mapping[str, str]) -> None:
        """aliases: folded word → our word."""
        self._column = column
        self._says_nothing = is_no_batch if column.name in _BATCH_COLUMNS else is_blank
        self.aliases = aliases
        #: Whether no cell may be read at once with others.
        self.is_by_word = bool(aliases) or column.name in _BATCH_COLUMNS

    def of(self, text: str) -> str | Refusal | None:
        if self._says_nothing(text):
            return None
        text = text.strip()
        if self._column.type == "string" and _LOST_DIGITS.fullmatch(text):
            return Refusal(
                f"'{text}' is a long number that a spreadsheet has shortened, its last digits are lost",
                f"Format {self._column.name} as text in the spreadsheet, enter it again and export.",
            )
        return self.aliases.get(fold(text), text) if self.aliases else text


class FlagReader:
    """Reads yes and no."""

    def __init__(self, column: Column) -> None:
        self._column = column

    def of(self, text: str) -> bool | Refusal | None:
        word = text.strip().casefold()
        if word in _YES or word in _NO:
            return word in _YES
        if is_blank(text):
            return None
        return Refusal(f"'{text.strip()[:60]}' is neither yes nor no", f"Write yes or no in {self._column.name}.")


def reader_for(
    column: Column, evidence: Evidence, *, own_words: Mapping[str, str], aliases: Mapping[str, str], scale: float, today: dt.date
) -> Reader:
    """Return the reader of a column's cells in one sheet."""
    match column.type:
        case "code":
            return CodeReader(column, own_words)
        case "date" | "datetime":
            return DateReader(
                column, order=lambda: evidence.order(column), has_serials=lambda: evidence.has_serials(column), today=today
            )
        case "boolean":
            return FlagReader(column)
        case "number" | "money" | "integer":
            return NumberReader(column, decimal=evidence.decimal, scale=scale)
    return TextReader(column, aliases)


class ColumnReader:
    """Reads one column of one sheet batch by batch, and remembers each word it has read."""

    def __init__(self, column: Column, reader: Reader) -> None:
        self.column = column
        self._reader = reader
        self._type = ARROW_TYPE[column.type]
        self._known: dict[str, object] = {}
        #: Of a column of money: the currency signs and codes met so far, and the line on which each was first met.
        self.currencies: dict[str, int] = {}

    def of(self, text: str) -> object:
        """Return what one cell says."""
        if text not in self._known:
            self._known[text] = self._reader.of(text)
        return self._known[text]

    def place_currencies(self, raw: pa.Array, lines: np.ndarray) -> None:
        """Find the lines of the currencies that were first met in a batch which was just read."""
        met = self._reader.currencies if isinstance(self._reader, NumberReader) else {}
        for currency in met.keys() - self.currencies.keys():
            place = pc.index(pc.utf8_trim_whitespace(raw.cast(pa.string())), met[currency]).as_py()
            if place >= 0:
                self.currencies[currency] = int(lines[place])

    def read(self, raw: pa.Array) -> ReadColumn:
        """Read all cells of a batch."""
        if pa.types.is_dictionary(raw.type):
            return self._by_word(raw)
        values, is_left = self._at_once(raw)
        if values is not None and is_left is None:
            return ReadColumn(values)
        read = self._by_word((raw if values is None else raw.filter(is_left)).dictionary_encode())
        read = ReadColumn(read.plain(), read.is_bad, read.before_alias)
        return read if values is None else _put_in(values, is_left, read)

    def _at_once(self, raw: pa.Array) -> tuple[pa.Array | None, pa.Array | None]:
        """Return what `quick` makes of the cells; no values where each must be read by itself."""
        quick = QUICK.get(self.column.type)
        is_by_word = quick is None or (isinstance(self._reader, TextReader) and self._reader.is_by_word)
        return (None, None) if is_by_word else quick(raw, self._reader)

    def _by_word(self, raw: pa.DictionaryArray) -> ReadColumn:
        indices = raw.indices
        values, is_left = self._at_once(raw.dictionary)
        if values is not None and is_left is None:
            # a null has no word: it is a null among the indices
            places = pc.if_else(values.is_valid(), pa.array(np.arange(len(values), dtype=np.int32)), _NO_PLACE)
            return ReadColumn(pa.DictionaryArray.from_arrays(places.take(indices), values))
        words = raw.dictionary.to_pylist()
        said = [self.of(word) for word in words]
        bad = np.array([isinstance(one, Refusal) for one in said], bool)
        is_bad = bad[indices.to_numpy(zero_copy_only=False)] if bad.any() else None
        values = [None if isinstance(one, Refusal) else one for one in said]
        places = pa.array([None if one is None else place for place, one in enumerate(values)], pa.int32()).take(indices)
        typed = pa.DictionaryArray.from_arrays(places, pa.array(values, self._type))
        return ReadColumn(typed, is_bad, self._before_alias(indices, words, said))

    def _before_alias(self, indices: pa.Array, words: list[str], said: list[object]) -> pa.Array | None:
        if not (isinstance(self._reader, TextReader) and self._reader.aliases):
            return None
        before = [word.strip() if isinstance(one, str) and one != word.strip() else None
                  for word, one in zip(words, said, strict=True)]  # fmt: skip
        return pa.array(before, pa.string()).take(indices) if any(before) else None


def _put_in(values: pa.Array, is_left: pa.Array, read: ReadColumn) -> ReadColumn:
    """Put the cells that were read one by one between those that were read at once."""
    is_bad = None
    if read.is_bad is not None:
        is_bad = np.zeros(len(values), bool)
        is_bad[is_left.to_numpy(zero_copy_only=False)] = read.is_bad
    return ReadColumn(pc.replace_with_mask(values, is_left, read.values), is_bad)


def own_words_of(column: Column, codes: Mapping[str, Mapping[str, str]]) -> Mapping[str, str]:
    """Return the user's words for a coded column."""
    return codes.get(list_name(column), {}) if column.type == "code" else {}
