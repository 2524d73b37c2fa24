"""Numbers as people type them: decimal commas, thousands marks, money signs, units behind, hours as 1:30 or 90m."""

from __future__ import annotations

import re

from pipelines.contract import Column
from pipelines.logs.refusal import Refusal
from pipelines.logs.spelling import is_blank

_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_GROUPS = re.compile(r"[+-]?[1-9]\d{0,2}([.,  '’])\d{3}(\1\d{3})*")
_BOTH_MARKS = re.compile(r"[+-]?\d{1,3}(?:([.,  '’])\d{3})*([.,])\d+")
_COMMA = re.compile(r"[+-]?\d*,\d+")
_CLOCK = re.compile(r"(\d{1,6}):([0-5]\d)(?::([0-5]\d)(?:\.\d+)?)?")
_SPAN = re.compile(r"(?:(\d+(?:[.,]\d+)?) ?h(?:rs?|ours?)?)? ?(?:(\d+(?:[.,]\d+)?) ?m(?:in(?:ute)?s?)?)?", re.IGNORECASE)
_MONEY = re.compile(r"[€$£¥₹]|\b(?:eur|usd|gbp|chf|cad|aud|jpy|sek|nok|dkk|pln|czk)\b", re.IGNORECASE)
_BEHIND = re.compile(r"\s*(?:%|pct|percent|hrs?|hours?|h|mins?|minutes?|d|days?|pcs|x)\.?$", re.IGNORECASE)
_RANGE = re.compile(r"^(?:>=(\d+)|(\d+)\.\.(\d+))")
#: A meter or a form that has no reading writes this; no such percentage exists.
_NO_READING = 9999.0
_TOO_LARGE = 1e15


def limits_of(column: Column) -> tuple[float | None, float | None]:
    """Return the least and the largest value the contract allows, None where it sets none."""
    found = _RANGE.match(column.allowed)
    if not found:
        return None, None
    at_least, low, high = found.groups()
    return (float(at_least), None) if at_least is not None else (float(low), float(high))


class NumberReader:
    """Reads one numeric column of one file: text → number, None for a blank, or a Refusal."""

    def __init__(self, column: Column, *, decimal: str, scale: float = 1.0) -> None:
        self._column = column
        self.decimal = decimal
        self.scale = scale
        #: The currency signs and codes met in its cells, each with the first of them.
        self.currencies: dict[str, str] = {}
        self._low, self._high = limits_of(column)
        self._is_reading = column.unit.startswith("%") and column.name[:3] in ("af_", "al_")

    @property
    def is_whole(self) -> bool:
        return self._column.type == "integer"

    @property
    def low(self) -> float:
        """The least value that may be meant."""
        return -_TOO_LARGE if self._low is None else self._low

    @property
    def high(self) -> float:
        """The largest value that is surely meant; above it each cell is looked at."""
        return min(self._high or _TOO_LARGE, _NO_READING / 2 if self._is_reading else _TOO_LARGE)

    def of(self, text: str) -> float | int | Refusal | None:
        if is_blank(text):
            return None
        value = self._number(text.strip())
        if value is None:
            return self._refuse(text, f"is not a number ({self._column.unit or 'count'})")
        if self._is_reading and abs(value) == _NO_READING:
            return None
        return self._in_range(text, value * self.scale)

    def _in_range(self, text: str, value: float) -> float | int | Refusal:
        if self._low is not None and value < self._low:
            return self._refuse(text, f"is below {self._low:g}")
        if self._high is not None and value > self._high:
            return self._refuse(text, f"is above {self._high:g} {self._column.unit}")
        if abs(value) > _TOO_LARGE:
            return self._refuse(text, "is too large to be meant")
        if self._column.type == "integer":
            return int(value) if value == int(value) else self._refuse(text, "is not a whole number")
        return value

    def _number(self, text: str) -> float | None:
        if (time := self._time(text)) is not None:
            return time
        bare = self._without_currency(text) if self._column.type == "money" else text
        return number(_BEHIND.sub("", bare).strip() if bare[-1:] not in "0123456789" else bare, decimal=self.decimal)

    def _without_currency(self, text: str) -> str:
        for currency in currencies_in(text):
            self.currencies.setdefault(currency, text)
        return _MONEY.sub("", text).strip()

    def _time(self, text: str) -> float | None:
        """Return a time span in the column's unit, h or min; a colon is read as hours:minutes."""
        per_hour = {"h": 1.0, "min": 60.0}.get(self._column.unit)
        if per_hour is None:
            return None
        if found := _CLOCK.fullmatch(text):
            hours, minutes, seconds = (float(part or 0) for part in found.groups())
            return (hours + minutes / 60 + seconds / 3600) * per_hour
        found = _SPAN.fullmatch(text)
        if not text or not found or found.groups() == (None, None):
            return None
        hours, minutes = (float((part or "0").replace(",", ".")) for part in found.groups())
        return (hours + minutes / 60) * per_hour

    def _refuse(self, text: str, what: str) -> Refusal:
        return Refusal(f"'{text.strip()[:60]}' {what}", f"Correct {self._column.name} in the export, or leave it blank.")


def number(text: str, *, decimal: str) -> float | None:
    """Return the number that `text` writes, None if it writes none. `decimal` settles only what both marks could mean."""
    if _GROUPS.fullmatch(text) and not (text.count(decimal) == 1 and decimal in ".,"):
        return float(re.sub(r"[^\d+-]", "", text))
    if _PLAIN.fullmatch(text):
        return _finite(text)
    if _COMMA.fullmatch(text):
        return _finite(text.replace(",", "."))
    if (found := _BOTH_MARKS.fullmatch(text)) and found.group(1) != found.group(2):
        whole, _, part = text.rpartition(found.group(2))
        return float(re.sub(r"[^\d+-]", "", whole) + "." + part)
    return None


def currencies_in(text: str) -> set[str]:
    """Return the currency signs and codes written in a cell or a heading."""
    return {found.upper() for found in _MONEY.findall(text.replace("_", " "))}


def decimal_shown(text: str) -> str | None:
    """Return the decimal mark that this cell proves, None where it proves none (12, or 1,250)."""
    text = text.strip()
    if _GROUPS.fullmatch(text) or not re.search(r"\d", text):
        found = _GROUPS.fullmatch(text)
        # 1,250,000 has commas between thousands, so its file has decimal points
        if found and text.count(found.group(1)) > 1 and found.group(1) in ".,":
            return "," if found.group(1) == "." else "."
        return None
    found = re.search(r"([.,])\d+\D*$", text)
    return found.group(1) if found else None


def _finite(text: str) -> float | None:
    value = float(text)
    return value if abs(value) < float("inf") else None
