"""A cleaning plan as an iCalendar file (RFC 5545): whole days without a time zone, an event for each controller."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from importlib.metadata import version

from pipelines.answers.cleaning_plan_record import CleaningPlan
from pipelines.errors import InputError
from pipelines.wording.cleaning_plan import event_words

_MAKER = "stickfleet"


@dataclass(frozen=True)
class _Event:
    uid: str
    day: dt.date
    summary: str
    description: str
    location: str
    status: str
    sequence: int


def plan_calendar(answer: CleaningPlan, previous: bytes | None = None) -> bytes:
    """Return the calendar file; previous: that of last time, so that calendars take the changes.

    An event keeps its UID. SEQUENCE rises where its day, words or status change; one of a day of the plan or after it that is
    no longer planned is cancelled. What was planned for a day before the start is left as it stands in the calendar. DTSTAMP
    is the end of the log, so the same log and plan give the same file. Raises InputError where `previous` is no such file.
    """
    from icalendar import Calendar, Event

    book = Calendar()
    book.add("prodid", f"-//{_MAKER}//{_MAKER} {version(_MAKER)}//EN")
    book.add("version", "2.0")
    stamp = dt.datetime.combine(dt.date.fromisoformat(answer.log_end), dt.time(), dt.UTC) if answer.log_end else None
    for one in _updated(_events(answer), _read(previous) if previous is not None else {}, answer):
        event = Event()
        event.add("uid", one.uid)
        event.add("dtstamp", stamp)
        event.add("sequence", one.sequence)
        event.add("status", one.status)
        event.add("dtstart", one.day)
        event.add("dtend", one.day + dt.timedelta(days=1))
        event.add("summary", one.summary)
        event.add("transp", "TRANSPARENT")
        for name in ("description", "location"):
            if words := getattr(one, name):
                event.add(name, words)
        book.add_component(event)
    return book.to_ical()


def _events(answer: CleaningPlan) -> list[_Event]:
    return [
        _Event(one.uid, dt.date.fromisoformat(one.planned_on), *event_words(one), one.site or "", "CONFIRMED", 0)
        for one in answer.cleans
    ]


def _updated(events: list[_Event], before: dict[str, _Event], answer: CleaningPlan) -> list[_Event]:
    found = []
    for one in events:
        if (then := before.get(one.uid)) is not None:
            is_changed = replace(one, sequence=then.sequence) != then
            one = replace(one, sequence=then.sequence + is_changed)
        found.append(one)
    planned = {one.uid for one in events}
    for then in before.values():
        if then.uid in planned or answer.start is None or then.day.isoformat() < answer.start:
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
    return _Event(str(one["uid"]), one.decoded("dtstart"), *words, int(one.get("sequence", 0)))
