"""A cleaning plan as an iCalendar file (RFC 5545): an event for each controller, a whole day or, where hours are kept, a time."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from importlib.metadata import version
from zoneinfo import ZoneInfo

from pipelines.answers.calendar_zone import calendar_zone
from pipelines.answers.cleaning_plan_record import CleaningPlan, PlannedClean
from pipelines.answers.open_hours import clock_minute
from pipelines.errors import InputError
from pipelines.wording.cleaning_plan import event_words

_MAKER = "stickfleet"


@dataclass(frozen=True)
class _Event:
    """begins, ends: days (no time zone can shift them), or times in `zone`, which is '' for days."""

    uid: str
    begins: dt.date
    ends: dt.date
    zone: str
    summary: str
    description: str
    location: str
    status: str
    sequence: int


def plan_calendar(answer: CleaningPlan, previous: bytes | None = None) -> bytes:
    """Return the calendar file; previous: that of last time, so that calendars take the changes.

    An event keeps its UID. SEQUENCE rises where its day, time, words or status change; one of a day of the plan or after it
    that is no longer planned is cancelled. What was planned for a day before the start is left as it stands in the calendar.
    DTSTAMP is the end of the log, so the same log and plan give the same file. Raises InputError where `previous` is no such
    file.
    """
    from icalendar import Calendar, Event

    book = Calendar()
    book.add("prodid", f"-//{_MAKER}//{_MAKER} {version(_MAKER)}//EN")
    book.add("version", "2.0")
    stamp = dt.datetime.combine(dt.date.fromisoformat(answer.log_end), dt.time(), dt.UTC) if answer.log_end else None
    updated = _updated(_events(answer), _read(previous) if previous is not None else {}, answer)
    for one in updated:
        event = Event()
        event.add("uid", one.uid)
        event.add("dtstamp", stamp)
        event.add("sequence", one.sequence)
        event.add("status", one.status)
        event.add("dtstart", one.begins)
        event.add("dtend", one.ends)
        event.add("summary", one.summary)
        event.add("transp", "OPAQUE" if one.zone else "TRANSPARENT")
        for name in ("description", "location"):
            if words := getattr(one, name):
                event.add(name, words)
        book.add_component(event)
    for place, name in enumerate(sorted(book.get_missing_tzids())):
        years = [day.year for one in updated for day in (one.begins, one.ends)]
        book.subcomponents.insert(place, calendar_zone(name, dt.date(min(years), 1, 1), dt.date(max(years), 12, 31)))
    return book.to_ical()


def _events(answer: CleaningPlan) -> list[_Event]:
    return [_Event(one.uid, *_span(one, answer.zone), *event_words(one), one.site or "", "CONFIRMED", 0) for one in answer.cleans]


def _span(one: PlannedClean, zone: str | None) -> tuple[dt.date, dt.date, str]:
    day = dt.date.fromisoformat(one.planned_on)
    if one.begins_at is None:
        return day, day + dt.timedelta(days=1), ""
    midnight = dt.datetime.combine(day, dt.time(), ZoneInfo(zone))
    begins, ends = (midnight + dt.timedelta(minutes=clock_minute(words)) for words in (one.begins_at, one.ends_at))
    # (where the clocks skip the hour after it, an end is written as the time that they show then)
    return begins, ends.astimezone(dt.UTC).astimezone(ends.tzinfo), zone


def _updated(events: list[_Event], before: dict[str, _Event], answer: CleaningPlan) -> list[_Event]:
    found = []
    for one in events:
        if (then := before.get(one.uid)) is not None:
            is_changed = replace(one, sequence=then.sequence) != then
            one = replace(one, sequence=then.sequence + is_changed)
        found.append(one)
    planned = {one.uid for one in events}
    for then in before.values():
        if then.uid in planned or answer.start is None or then.begins.isoformat() < answer.start:
            continue
        is_new = then.status != "CANCELLED"
        found.append(replace(then, status="CANCELLED", sequence=then.sequence + is_new))
    return found


def _read(content: bytes) -> dict[str, _Event]:
    from icalendar import Calendar

    remedy = "Give the .ics file that this plan was written to last time."
    try:
        book = Calendar.from_ical(content)
        if f"//{_MAKER} " not in str(book.get("prodid", "")):
            raise InputError("The calendar file was not made by this plan.", remedy)
        events = [_event(one) for one in book.walk("VEVENT")]
    except (ValueError, KeyError, AttributeError, IndexError, TypeError) as error:
        raise InputError("The calendar file cannot be read.", remedy) from error
    return {one.uid: one for one in events}


def _event(one) -> _Event:
    words = (str(one.get(name, "")) for name in ("summary", "description", "location", "status"))
    begins, ends = one.decoded("dtstart"), one.decoded("dtend")
    zone = ZoneInfo(str(begins.tzinfo)).key if isinstance(begins, dt.datetime) else ""
    return _Event(str(one["uid"]), begins, ends, zone, *words, int(one.get("sequence", 0)))
