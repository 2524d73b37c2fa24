"""The plan of cleans as sentences."""

from __future__ import annotations

from pipelines.vocabulary import Calendar, Clock
from pipelines.wording.costs import cost_words
from pipelines.wording.label import label
from pipelines.wording.verdict import counted, duration_words

_RESTS_ON = {
    "readings": "its own readings", "expected_hours": "the hours a week that the register expects", "days": "days in service",
}  # fmt: skip


def rests_on_words(word: str) -> str:
    """Return what a due date rests on."""
    return _RESTS_ON[word]


def nothing_sentence() -> str:
    """Say that there is nothing to clean."""
    return "Nothing to plan: no stick of an own controller was in service at the end of the log."


def asked_for_sentence(*, has_interval: bool, has_capacity: bool, advice) -> str:
    """Say what must be given before a plan can be made; advice: the answer on intervals, where it was asked."""
    parts = []
    if not has_interval:
        parts.append(
            f"{_without_interval(advice)} To plan all the same, give the play hours from clean to clean or the days in service."
        )
    if not has_capacity:
        parts.append("Give how many controllers can be cleaned in a day.")
    return " ".join(parts)


def _without_interval(advice) -> str:
    """Say why no interval is taken from the record, and what to do instead."""
    if advice is not None and advice.asked_for:
        named = "; ".join(cost_words(one.name).lower() for one in advice.asked_for)
        return f"Whether to clean on a calendar cannot be told before its costs are given: {named}."
    verdicts = {one.planned.verdict for one in advice.groups if one.planned is not None} if advice is not None else set()
    if not verdicts:
        return "Whether to clean on a calendar cannot be told from this record, so no interval is taken from it."
    why = "A calendar would buy nothing" if verdicts == {Calendar.NEVER} else "The record does not show that a calendar pays"
    return (
        f"{why}, so none is planned. Instead clean what is found bad, keep an eye on what will fail next, and keep parts and "
        "spares for it on the shelf."
    )


def sentence(plan) -> str:
    """Return how many are planned, and whether the capacity does."""
    counts, span = plan.counts, f"from {plan.start} to {plan.end}"
    controllers = counted(counts["in_service"], "controller") + (f" at {plan.site}" if plan.site else "")
    if not plan.cleans:
        if plan.because:
            return (
                "Nothing to plan: how much the controllers are played is neither read nor expected in the register. Give the "
                "interval in days in service instead."
            )
        return f"Nothing to clean: of {controllers} none is due {span}."
    said = f"{counts['planned']:,} of {controllers} {'is' if counts['planned'] == 1 else 'are'} due for a clean {span}"
    if counts["overdue"]:
        said += f", {counts['overdue']:,} of them overdue"
    if counts["repeated"]:
        said += f", {counts['repeated']:,} more than once, {len(plan.cleans):,} cleans in all"
    if not counts["late"]:
        return f"{said}; {plan.capacity:,} a day is enough."
    short = plan.capacity_needed - plan.capacity
    return (
        f"{said}; {plan.capacity:,} a day is too few: {counts['late']:,} come late, the last by "
        f"{counted(plan.most_days_late, 'day')}. {short:,} more a day ({plan.capacity_needed:,}) would keep every date."
    )


def warnings(plan) -> list[str]:
    """Say what the dates rest on, and what was left out."""
    found = []
    if any(one.is_overdue for one in plan.cleans):
        found.append(f"What is overdue is to be done within {counted(plan.slack_days, 'day')} of the start, else it is late.")
    for word, said in (
        ("expected_hours", "there are no readings: the register's expected hours a week date their clean"),
        ("days", "the date rests on days in service: played much they are cleaned late, played little early"),
    ):
        if count := sum(one.rests_on == word for one in plan.cleans if one.number == 1):
            found.append(f"For {count:,} of the controllers planned {said}.")
    if count := plan.counts["within_slack"]:
        found.append(
            f"For {counted(count, 'controller')} a second clean is due within the days that it may be early: only the next is "
            "planned. Give fewer days to be early."
        )
    if count := plan.counts["no_usable_hours"]:
        found.append(f"{counted(count, 'controller')} left out: no readings, and no expected hours in the register.")
    if count := plan.counts["not_advised"]:
        found.append(f"{counted(count, 'controller')} left out: no calendar is advised for what they are.")
    if plan.cleans and max(one.planned_on for one in plan.cleans) > plan.end:
        found.append(f"There is no room for all before {plan.end}: the last clean is on {plan.cleans[-1].planned_on}.")
    return found


def interval_lines(plan) -> list[str]:
    """Return what interval is planned with, and where it is from."""
    return [
        f"{label(one.by)}: {duration_words(one.interval, Clock(one.clock))} from clean to clean, "
        + ("as advised" if one.is_advised else "as given")
        for one in plan.intervals
    ]


def event_words(one) -> tuple[str, str]:
    """Return the title and the text of a clean in a calendar."""
    title = f"Clean {one.unit}" + (f" ({one.family})" if one.family else "")
    return title, f"Sticks {one.sticks}. Due {one.due_on}, by {rests_on_words(one.rests_on)}."


def time_words(one) -> str:
    """Return '09:00–09:20' of a clean, blank where the plan keeps to no hours."""
    return f"{one.begins_at}–{one.ends_at}" if one.begins_at else ""


def short_words(minutes: int, cleans: int, day: str, *, hours: str, zone: str) -> tuple[str, str]:
    """Say that the hours of a day are too short, by how much at worst, and what to do."""
    return (
        f"The hours {hours} ({zone}) are too short: for the {counted(cleans, 'clean')} of {day} "
        f"{counted(minutes, 'minute')} {'is' if minutes == 1 else 'are'} lacking.",
        "Give longer hours, fewer controllers a day, or close that day.",
    )


def frame_note(plan) -> str:
    """Say what an event is."""
    what = (
        f"Each event has its time in the time zone {plan.zone}, one after another within {', '.join(plan.window)}."
        if plan.window
        else "Each event is a whole day without a time zone, and means that day wherever the calendar is read."
    )
    return f"{what} Cleans after the next one are dated as if each is done when due: plan anew as cleans and readings come in."
