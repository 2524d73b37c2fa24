"""The days on which nothing is cleaned, as a person writes them."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from pipelines.errors import SettingError

_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_MOST = 3660


@dataclass(frozen=True)
class Closed:
    """weekdays: 0 is Monday; dates: days; words: both as they were written."""

    weekdays: frozenset[int]
    dates: frozenset[dt.date]
    words: list[str]


def closed_days(text: str) -> Closed:
    """Return the days of `sat,sun,2026-12-24,2026-12-27..2027-01-03`. Raises SettingError, also where no weekday is left."""
    words = [word for word in re.split(r"[,;|\s]+", text.strip().lower()) if word]
    weekdays, dates = set(), set()
    for word in words:
        if word.isalpha() and word[:3] in _WEEKDAYS:
            weekdays.add(_WEEKDAYS.index(word[:3]))
        else:
            dates |= _dates(word)
    if len(weekdays) == 7:
        raise SettingError("Every day of the week is closed.", "Leave at least one open.")
    return Closed(frozenset(weekdays), frozenset(dates), words)


def _dates(word: str) -> set[dt.date]:
    first, _, last = word.partition("..")
    try:
        begin, end = dt.date.fromisoformat(first), dt.date.fromisoformat(last or first)
    except ValueError as error:
        remedy = "Write sat,sun,2026-12-24 or a stretch as 2026-12-24..2027-01-03."
        raise SettingError(f"'{word}' is no closed day.", remedy) from error
    if not 0 <= (end - begin).days <= _MOST:
        raise SettingError(f"'{word}' is no stretch of at most ten years.", "Write the earlier day first.")
    return {begin + dt.timedelta(days=day) for day in range((end - begin).days + 1)}
