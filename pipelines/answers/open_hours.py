"""The hours of the day in which cleaning may be done, as a person writes them, and which of them a day has."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from itertools import pairwise
from zoneinfo import ZoneInfo, available_timezones

from pipelines.decisions.clean_times import Stretch
from pipelines.errors import SettingError
from pipelines.logs.spelling import nearest

_STRETCH = re.compile(r"(\d{1,2}):(\d\d)-(\d{1,2}):(\d\d)")
_WRITE = "Write 09:00-12:00 or 09:00-12:00,14:00-16:00."


@dataclass(frozen=True)
class OpenHours:
    """stretches: rising, apart; words: as they were written; zone: its IANA name."""

    stretches: tuple[Stretch, ...]
    words: list[str]
    zone: str

    def on(self, day: dt.date) -> list[Stretch]:
        """Return the stretches of a day, without the minutes that its clocks skip or show twice."""
        zone = ZoneInfo(self.zone)
        midnight = dt.datetime.combine(day, dt.time(), zone)
        if midnight.utcoffset() == (midnight + dt.timedelta(days=1)).utcoffset():
            return list(self.stretches)
        found: list[Stretch] = []
        for begin, end in self.stretches:
            for minute in range(begin, end):
                if not _is_told_once(midnight + dt.timedelta(minutes=minute)):
                    continue
                if found and found[-1][1] == minute:
                    found[-1] = (found[-1][0], minute + 1)
                else:
                    found.append((minute, minute + 1))
        return found


def open_hours(window: str | None, zone: str | None) -> OpenHours | None:
    """Return the hours of `09:00-12:00,14:00-16:00` in a time zone such as Europe/Vienna; None without a window.

    Raises SettingError.
    """
    if zone is not None and zone not in available_timezones():
        near = nearest(zone, available_timezones())
        remedy = f"Did you mean {near}?" if near else "Write it as Europe/Vienna: continent, slash, town."
        raise SettingError(f"There is no time zone '{zone}'.", remedy)
    if window is None and zone is not None:
        raise SettingError("A time zone without hours says nothing of whole days.", "Give the hours too, or leave the zone out.")
    if window is None:
        return None
    if zone is None:
        raise SettingError("Hours for cleaning need the time zone of the site.", "Give it too, such as Europe/Vienna.")
    words = [word for word in re.split(r"[,;|\s]+", window.strip()) if word]
    stretches = sorted(_stretch(word) for word in words)
    if not stretches:
        raise SettingError("No hours for cleaning are given.", _WRITE)
    for (_, end), (begin, _) in pairwise(stretches):
        if begin < end:
            raise SettingError(f"The hours {window} overlap.", _WRITE)
    return OpenHours(tuple(stretches), words, zone)


def clock_words(minute: int) -> str:
    """Return '09:30' for minutes after midnight, '24:00' for the next midnight."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def clock_minute(words: str) -> int:
    """Return the minutes after midnight of what `clock_words` wrote."""
    hours, minutes = words.split(":")
    return 60 * int(hours) + int(minutes)


def _stretch(word: str) -> Stretch:
    found = _STRETCH.fullmatch(word)
    if found is None:
        raise SettingError(f"'{word}' are no hours of a day.", _WRITE)
    hour, minute, last_hour, last_minute = map(int, found.groups())
    begin, end = 60 * hour + minute, 60 * last_hour + last_minute
    if max(minute, last_minute) > 59 or not begin < end <= 24 * 60:
        raise SettingError(f"'{word}' are no hours of a day, the earlier one first.", _WRITE)
    return begin, end


def _is_told_once(at: dt.datetime) -> bool:
    return at.replace(fold=0).utcoffset() == at.replace(fold=1).utcoffset()
