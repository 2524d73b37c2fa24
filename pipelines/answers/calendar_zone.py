"""A time zone as iCalendar wants it in the file (RFC 5545, 3.6.5): when its clocks change, and by how much."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

_DAY, _MINUTE = dt.timedelta(days=1), dt.timedelta(minutes=1)


def calendar_zone(name: str, first: dt.date, last: dt.date):
    """Return the VTIMEZONE of an IANA zone that holds from the first to the last day.

    The library's own (icalendar 7.3) begins summer time an hour late: an onset is written in the time that held before it.
    """
    from icalendar import Timezone

    zone, block = ZoneInfo(name), Timezone()
    block.add("tzid", name)
    now = dt.datetime.combine(first, dt.time(), zone).astimezone(dt.UTC)
    until = dt.datetime.combine(last, dt.time(), dt.UTC) + 2 * _DAY
    block.add_component(_part(zone, now, now))
    while now < until:
        if _offset(zone, now) != _offset(zone, now + _DAY):
            change = _change(zone, now, now + _DAY)
            block.add_component(_part(zone, change - _MINUTE, change))
        now += _DAY
    return block


def _change(zone: ZoneInfo, before: dt.datetime, after: dt.datetime) -> dt.datetime:
    """Return the first minute with the offset of `after`."""
    while after - before > _MINUTE:
        middle = before + (after - before) // _MINUTE // 2 * _MINUTE
        before, after = (middle, after) if _offset(zone, middle) == _offset(zone, before) else (before, middle)
    return after


def _part(zone: ZoneInfo, before: dt.datetime, onset: dt.datetime):
    from icalendar import TimezoneDaylight, TimezoneStandard

    local = onset.astimezone(zone)
    part = TimezoneDaylight() if local.dst() else TimezoneStandard()
    part.add("dtstart", (onset + _offset(zone, before)).replace(tzinfo=None))
    part.add("tzoffsetfrom", _offset(zone, before))
    part.add("tzoffsetto", local.utcoffset())
    part.add("tzname", local.tzname())
    return part


def _offset(zone: ZoneInfo, at: dt.datetime) -> dt.timedelta:
    return at.astimezone(zone).utcoffset()
