"""Dates as people type them. Day first or month first is read off the column, and never guessed."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from pipelines.contract import Column
from pipelines.logs.refusal import Refusal
from pipelines.logs.spelling import is_blank

_TIME = r"(?:[T ,]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)? ?([ap]\.?m\.?)?(?: ?(?:Z|UTC|[+-]\d{2}:?\d{2}))?)?"
_YEAR_FIRST = re.compile(rf"(\d{{4}})([-/.])(\d{{1,2}})\2(\d{{1,2}}){_TIME}", re.IGNORECASE)
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
_NUMBERS = re.compile(rf"(\d{{1,2}})([-/. ])(\d{{1,2}})\2(\d{{4}}|\d{{2}}){_TIME}", re.IGNORECASE)
_WEEKDAY = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? +", re.IGNORECASE)
_DAY_NAME = re.compile(rf"(\d{{1,2}})(?:st|nd|rd|th)?[-/. ]*([^\W\d_]{{3,9}})\.?[-/., ]*(\d{{4}}|\d{{2}}){_TIME}", re.IGNORECASE)
_NAME_DAY = re.compile(rf"([^\W\d_]{{3,9}})\.?[-/. ]*(\d{{1,2}})(?:st|nd|rd|th)?,?[-/. ]+(\d{{4}}){_TIME}", re.IGNORECASE)
_SERIAL = re.compile(r"(\d{5})(?:[.,](\d+))?")
_MONTHS = {name: number for number, name in enumerate((
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
), start=1)}  # fmt: skip
#: Day 0 of the spreadsheets' date numbers.
_SERIAL_ZERO = dt.datetime(1899, 12, 30)
FIRST = dt.date(1990, 1, 1)
#: Columns in which a day still to come is meant.
_MAY_BE_TO_COME = frozenset(("valid_from", "to_at", "down_to"))
#: One slip in fifty does not make a column of dates ambiguous.
_SLIPS = 0.02


class Order(StrEnum):
    """How a column writes dates such as 03/04/2026."""

    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"
    MIXED = "mixed"
    UNKNOWN = "unknown"
    NONE_SEEN = "clear as written"


@dataclass(frozen=True)
class Shown:
    """What the cells of one column prove: counts of each form, and the first cell that can be read two ways."""

    day_first: int = 0
    month_first: int = 0
    either: int = 0
    serials: int = 0
    filled: int = 0
    first_either: str = ""

    @property
    def order(self) -> Order:
        most, least = max(self.day_first, self.month_first), min(self.day_first, self.month_first)
        if most == 0:
            return Order.UNKNOWN if self.either else Order.NONE_SEEN
        if least > _SLIPS * most:
            return Order.MIXED
        return Order.DAY_FIRST if self.day_first == most else Order.MONTH_FIRST

    @property
    def is_serials(self) -> bool:
        return 0 < self.serials == self.filled


def shown_by(counted: Iterable[tuple[str, int]]) -> Shown:
    """Count what (cell, how often) pairs prove about day and month."""
    day_first = month_first = either = serials = filled = 0
    first_either = ""
    for text, times in counted:
        text = text.strip()
        if is_blank(text):
            continue
        filled += times
        serials += times if _SERIAL.fullmatch(text) else 0
        found = _NUMBERS.fullmatch(text)
        if not found or found.group(2) == ".":
            continue
        one, two = int(found.group(1)), int(found.group(3))
        if 12 < one <= 31 and 1 <= two <= 12:
            day_first += times
        elif 12 < two <= 31 and 1 <= one <= 12:
            month_first += times
        elif one != two and max(one, two) <= 12:
            either += times
            first_either = first_either or text
    return Shown(day_first, month_first, either, serials, filled, first_either)


class DateReader:
    """Reads one date or datetime column of one file: text → date or datetime, None for a blank, or a Refusal."""

    def __init__(self, column: Column, *, order: Callable[[], Order], has_serials: Callable[[], bool], today: dt.date) -> None:
        """order and has_serials look through the whole column, so they are asked only when a cell needs them."""
        self._column = column
        self._ask_order = order
        self._ask_serials = has_serials
        self._last = dt.date.max if column.name in _MAY_BE_TO_COME else today + dt.timedelta(days=1)

    @cached_property
    def _order(self) -> Order:
        return self._ask_order()

    @cached_property
    def _has_serials(self) -> bool:
        return self._ask_serials()

    def of(self, text: str) -> dt.date | dt.datetime | Refusal | None:
        if is_blank(text):
            return None
        read = self._moment(_WEEKDAY.sub("", text.strip()), text.strip()[:60])
        if isinstance(read, Refusal):
            return read
        if self.is_outside(read):
            when = "in the future" if read.date() > self._last else "before 1990"
            return self._refuse(f"{read.date().isoformat()} is {when}")
        return read if self._column.type == "datetime" else read.date()

    def is_outside(self, moment: dt.datetime) -> bool:
        """Tell whether no job can have been on that day."""
        return not FIRST <= moment.date() <= self._last

    def _moment(self, text: str, shown: str) -> dt.datetime | Refusal:
        if found := _YEAR_FIRST.fullmatch(text):
            year, _, month, day, *time = found.groups()
            return self._checked(shown, year, month, day, time)
        if found := _COMPACT.fullmatch(text):
            return self._checked(shown, *found.groups(), [])
        if found := _NUMBERS.fullmatch(text):
            return self._numbers(shown, *found.groups())
        if found := _DAY_NAME.fullmatch(text):
            day, name, year, *time = found.groups()
            return self._named(shown, year, name, day, time)
        if found := _NAME_DAY.fullmatch(text):
            name, day, year, *time = found.groups()
            return self._named(shown, year, name, day, time)
        if (found := _SERIAL.fullmatch(text)) and self._has_serials:
            part = float(f"0.{found.group(2) or 0}")
            moment = _SERIAL_ZERO + dt.timedelta(days=int(found.group(1)) + part)
            return moment.replace(microsecond=0)
        return self._refuse(f"'{shown}' is not a date")

    def _numbers(self, shown: str, one: str, mark: str, two: str, year: str, *time: str | None) -> dt.datetime | Refusal:
        if mark == "." or one == two:
            return self._checked(shown, year, two, one, time)
        order = self._order
        if order in (Order.MIXED, Order.UNKNOWN, Order.NONE_SEEN):
            first, second = int(one), int(two)
            if max(first, second) <= 12 and first != second:
                return Refusal(
                    f"'{shown}' may be {_either_way(first, second)}: this column writes dates both ways",
                    "Write dates as 2026-04-03, or say day_first = true or false under [file] in the mapping file.",
                )
            order = Order.MONTH_FIRST if second > 12 else Order.DAY_FIRST
        day, month = (one, two) if order == Order.DAY_FIRST else (two, one)
        return self._checked(shown, year, month, day, time)

    def _named(self, shown: str, year: str, name: str, day: str, time: list) -> dt.datetime | Refusal:
        word = name.casefold().rstrip(".")
        month = next((number for full, number in _MONTHS.items() if full.startswith(word)), None)
        if month is None:
            return self._refuse(f"'{shown}' is not a date")
        return self._checked(shown, year, str(month), day, time)

    def _checked(self, shown: str, year: str, month: str, day: str, time: Iterable[str | None]) -> dt.datetime | Refusal:
        hour, minute, second, half = (*time, None, None, None, None)[:4]
        try:
            moment = dt.datetime(_full_year(year), int(month), int(day), _hour(hour, half), int(minute or 0), int(second or 0))
        except ValueError:
            return self._refuse(f"there is no date '{shown}'")
        return moment

    def _refuse(self, reason: str) -> Refusal:
        return Refusal(reason, f"Correct {self._column.name} in the export, or leave it blank if it is not known.")


def ambiguous(column: Column, text: str) -> Refusal:
    """Say that nothing in the file tells day from month."""
    one, two = (int(number) for number in _NUMBERS.fullmatch(text.strip()).group(1, 3))
    return Refusal(
        f"{column.name} '{text}' may be {_either_way(one, two)}, and nothing in the file tells which",
        "Say day_first = true or day_first = false under [file] in the mapping file.",
    )


def _either_way(one: int, two: int) -> str:
    names = [name.title() for name in _MONTHS]
    return f"{one} {names[two - 1]} or {two} {names[one - 1]}"


def _full_year(text: str) -> int:
    year = int(text)
    return year if len(text) == 4 else 2000 + year if year < 70 else 1900 + year


def _hour(hour: str | None, half: str | None) -> int:
    number = int(hour or 0)
    if half is None:
        return number
    if not 1 <= number <= 12:
        raise ValueError(hour)
    return number % 12 + (12 if half[0] in "pP" else 0)
