"""What can be read surely a whole column at a time: plain numbers, ISO moments, plain text. The rest is told apart."""

from __future__ import annotations

from collections.abc import Callable

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.logs.dates import DateReader
from pipelines.logs.numbers import NumberReader
from pipelines.logs.spelling import BLANK_WORDS

_BLANKS = pa.array(sorted({"NaN", *(form for word in BLANK_WORDS for form in (word, word.upper(), word.title()))}))
_PLAIN = {".": r"^-?\d{1,15}(\.\d+)?$", ",": r"^-?\d{1,15}(,\d+)?$"}
_DAY = r"^\d{4}-\d\d-\d\d$"
_ISO = r"^\d{4}-\d\d-\d\d([T ]\d\d:\d\d(:\d\d)?)?$"
_NO_TEXT = pa.scalar(None, pa.string())

#: Values (null where blank or not read), and which cells are left to be read one by one; None where none are.
Quick = tuple[pa.Array, pa.Array | None]


def text(raw: pa.Array, reader: object) -> Quick:
    """Trim, and make blank words null; ids that look like 1.2E+17 are left."""
    trimmed = pc.utf8_trim_whitespace(raw)
    is_blank_word = pc.is_in(trimmed, value_set=_BLANKS)
    values = pc.if_else(is_blank_word, _NO_TEXT, trimmed) if pc.any(is_blank_word).as_py() else trimmed
    # two plain searches take a third of one that ignores case
    suspect = pc.or_(pc.match_substring(trimmed, "E+"), pc.match_substring(trimmed, "e+"))
    return values, suspect if pc.any(suspect).as_py() else None


def number(raw: pa.Array, reader: NumberReader) -> Quick:
    """Read plain digits within the contract's limits; everything else is left."""
    kind = pa.int64() if reader.is_whole else pa.float64()
    if reader.decimal == "." and reader.scale == 1.0:
        texts = pc.if_else(pc.equal(raw, ""), _NO_TEXT, raw)
        values = _cast(texts, pa.float64())
        if values is not None and _all_allowed(values, reader):
            whole = _cast(values, kind)
            if whole is not None:
                return whole, None
    return _plain_numbers(raw, reader, kind)


def _plain_numbers(raw: pa.Array, reader: NumberReader, kind: pa.DataType) -> Quick:
    is_plain = pc.match_substring_regex(raw, _PLAIN[reader.decimal])
    texts = pc.if_else(is_plain, raw, _NO_TEXT)
    if reader.decimal == ",":
        texts = pc.replace_substring(texts, ",", ".")
    values = pc.multiply(texts.cast(pa.float64()), reader.scale)
    low, high = reader.low, reader.high
    fits = pc.and_(pc.greater_equal(values, low), pc.less_equal(values, high))
    if reader.is_whole:
        fits = pc.and_(fits, pc.equal(values, pc.round(values)))
    is_read = pc.fill_null(fits, False)
    is_left = pc.and_not(pc.not_equal(raw, ""), is_read)
    return pc.if_else(is_read, values, pa.scalar(None, pa.float64())).cast(kind), is_left if pc.any(is_left).as_py() else None


def _all_allowed(values: pa.Array, reader: NumberReader) -> bool:
    least, most = (one.as_py() for one in pc.min_max(values).values())
    return least is None or (reader.low <= least and most <= reader.high and pc.all(pc.is_finite(values)).as_py())


def moment(raw: pa.Array, reader: DateReader) -> Quick:
    """Read ISO dates and times that can have been; everything else is left."""
    values = _cast(pc.if_else(pc.equal(raw, ""), _NO_TEXT, raw), pa.timestamp("us"))
    if values is None:
        is_iso = pc.match_substring_regex(raw, _ISO)
        values = _cast(pc.if_else(is_iso, raw, _NO_TEXT), pa.timestamp("us"))
    if values is None:
        values = pa.nulls(len(raw), pa.timestamp("us"))
    ends = [one.as_py() for one in pc.min_max(values).values()]
    if any(one is not None and reader.is_outside(one) for one in ends):
        values = pa.nulls(len(raw), pa.timestamp("us"))
    is_left = pc.and_(pc.is_null(values), pc.not_equal(raw, ""))
    return values, is_left if pc.any(is_left).as_py() else None


def day(raw: pa.Array, reader: DateReader) -> Quick:
    """Read ISO dates that can have been; everything else is left."""
    is_day = pc.match_substring_regex(raw, _DAY)
    values, is_left = moment(pc.if_else(is_day, raw, ""), reader)
    is_other = pc.and_not(pc.not_equal(raw, ""), is_day)
    is_left = is_other if is_left is None else pc.or_(is_left, is_other)
    return values.cast(pa.date32()), is_left if pc.any(is_left).as_py() else None


def _cast(values: pa.Array, kind: pa.DataType) -> pa.Array | None:
    try:
        return values.cast(kind)
    except pa.ArrowInvalid:
        return None


QUICK: dict[str, Callable[[pa.Array, object], Quick]] = {
    "string": text, "number": number, "money": number, "integer": number, "datetime": moment, "date": day,
}  # fmt: skip
