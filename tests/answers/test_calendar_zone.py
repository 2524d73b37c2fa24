"""The zone in the file against the zone data of the system, read back by another program's rule for onsets (dateutil's)."""

from __future__ import annotations

import datetime as dt
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import tzical

from pipelines.answers.calendar_zone import calendar_zone


@pytest.mark.parametrize(
    "name",
    ["Europe/Vienna", "Europe/Dublin", "America/New_York", "America/Havana", "Australia/Lord_Howe", "Africa/Casablanca",
     "Asia/Kolkata", "Africa/Cairo", "Pacific/Chatham"],
)  # fmt: skip
def test_every_hour_of_a_year_has_the_offset_of_the_zone(name):
    first, last = dt.date(2026, 1, 1), dt.date(2026, 12, 31)
    text = f"BEGIN:VCALENDAR\r\n{calendar_zone(name, first, last).to_ical().decode()}END:VCALENDAR\r\n"
    told, zone = tzical(StringIO(text.replace("\r\n", "\n"))).get(name), ZoneInfo(name)
    at, step, count = dt.datetime(2026, 1, 1, 0, 5), dt.timedelta(minutes=30), 0
    while at.date() <= last:
        # what the clocks skip or show twice is no time that is written
        if at.replace(tzinfo=zone, fold=0).utcoffset() == at.replace(tzinfo=zone, fold=1).utcoffset():
            assert at.replace(tzinfo=told).utcoffset() == at.replace(tzinfo=zone).utcoffset(), at
            count += 1
        at += step
    assert count > 17_000
