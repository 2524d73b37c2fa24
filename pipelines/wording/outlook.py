"""What will fail next, and what the coming weeks bring, as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, SpellKind
from pipelines.wording.label import label
from pipelines.wording.verdict import counted, level_words, limits_words, reason_words, share_words

_SINCE = {
    SpellKind.FIRST_LIFE: "since it was fitted",
    SpellKind.AFTER_CLEAN: "since a clean",
    SpellKind.AFTER_OTHER_REPAIR: "since another repair",
    SpellKind.AFTER_PREVENTIVE: "since a planned clean",
    "since_first_seen": "since first seen",
}


def since_words(since: str) -> str:
    """Return what the age of a stick is counted from."""
    return _SINCE[since]


def count_words(one: Estimate) -> str:
    """Return an expected count with its limits, such as '52 (41 to 64)'; a dash where it is refused."""
    if one.estimate is None:
        return "–"
    return f"{_number(one.estimate)} ({limits_words(one.low, one.high, _whole)})"


def stick_words(stick) -> str:
    """Return which stick it is."""
    return f"{stick.unit_id} {stick.stick}"


def refused_words(because: Because) -> str:
    """Return why nothing can be told of what is to come."""
    if because is Because.TOO_LARGE:
        return "too many sticks are in service to play their futures through"
    return reason_words(because)


def next_sentence(
    because: Because | None, counts: Mapping[str, int], days: int, soon: Estimate, sticks: Sequence, whole, level: float
) -> str:  # fmt: skip
    """Say how many faults to expect, which stick is the likeliest, and what the coming 13 weeks bring."""
    if because is not None:
        return f"Nothing to say of what will fail next: {refused_words(because)}."
    first = sticks[0]
    limits = f"{level_words(level)} interval {limits_words(soon.low, soon.high, _whole)}"
    said = (
        f"Of {counted(counts['sticks'], 'stick')} in service about {_number(soon.estimate)} ({limits}) will have a fault within "
        f"{days} days. "
        f"The likeliest is {stick_words(first)} ({first.family}): {share_words(first.chance.estimate)} "
        f"({limits_words(first.chance.low, first.chance.high, share_words)})."
    )
    modules = "" if whole.modules.estimate is None else f" and {count_words(whole.modules)} new modules"
    return f"{said} The next 13 weeks bring about {count_words(whole.faults)} faults, {count_words(whole.jobs)} jobs{modules}."


def ahead_words(by: Mapping[str, str | None]) -> str:
    """Return whom a row of the coming weeks is about."""
    return label(by) if by else "all together"


def tried_sentence(tried, days: int) -> str:
    """Say how the same answer would have done 13 weeks before the end of the log."""
    if tried.expected is None:
        return f"It could not be tried on the last 13 weeks: {reason_words(tried.because)}."
    inside = "inside" if tried.is_within else "outside"
    said = (
        f"Asked on {tried.asked_on}, it would have expected {_number(tried.expected)} of {counted(tried.sticks, 'stick')} to "
        f"fail within {days} days; {tried.came:,} did. For the 13 weeks it would have said {count_words(tried.forecast)} faults; "
        f"{tried.came_in_all:,} came, which is {inside} its limits."
    )
    worse = None if tried.brier is None else tried.brier >= tried.plain_brier
    return f"{said} Giving every stick the same chance would have been no worse." if worse else said


def outlook_warnings(record, found, tried) -> list[str]:
    """Say what the figures rest on that a reader would not guess."""
    if found.because is not None:
        return []
    said, count = [], len(found.frame)
    by_days = count - int(found.frame["is_hours"].sum())
    if not record.is_hours:
        said.append(
            "Too many sticks have no usable play hours, so everything is worked out in days: how much each controller is played "
            "does not count."
        )
    elif by_days:
        said.append(f"{by_days:,} of {counted(count, 'stick')} have no usable play hours and are judged in days.")
    if found.shock.sd is None:
        said.append(
            f"Only {counted(found.shock.quarters, 'past quarter')} can be compared with what was expected: the intervals assume "
            "that the coming quarter is like the past."
        )
    if record.is_hours and record.season is None:
        said.append("The readings do not cover a whole year, so it is not known whether the coming weeks are busy ones.")
    if found.laws.borrowed:
        kinds = ", ".join(since_words(one) for one in found.laws.borrowed)
        said.append(f"Too few faults on record to tell of sticks of their own kind: {kinds}. They follow the law of all.")
    if not found.has_repairs:
        said.append("No fault is on record as put right, so nothing tells how many need a new module.")
    if tried is not None and tried.is_within is False:
        said.append("Tried on the last 13 weeks, the forecast missed: see below before you rely on it.")
    return said


def _number(value: float) -> str:
    return f"{value:,.0f}" if value >= 10 else f"{value:,.1f}"


def _whole(value: float) -> str:
    return f"{value:,.0f}"
