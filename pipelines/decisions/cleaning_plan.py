"""Which cleans come due, and on which day each is done with so many a day: late only where there are too many."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Levelled:
    """By clean: day it is done on (days after the start), and whether that is late for want of capacity.

    most_days_late: of the latest of these; capacity_needed: cleans a day with which none would be.
    """

    day: np.ndarray
    is_late: np.ndarray
    most_days_late: int
    capacity_needed: int


def coming(due: np.ndarray, gap: np.ndarray, *, days: int, slack_days: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return each clean that comes due before the end of the plan: whose it is, its number (1: the next), and its due day.

    due, gap: by controller, days after the start of its next clean (under 0 where overdue, less than `days`), and days from clean
    to clean. A later clean is due a gap after the one before it was; of one that is overdue that is the end of the slack. Where
    the gap is no longer than the slack only the next is given: the one after it could be done on the same day.
    """
    from_day = np.where(due < 0, slack_days, due)
    more = np.where(gap > slack_days, np.ceil((days - from_day) / gap) - 1, 0)
    count = 1 + np.maximum(more, 0).astype(int)
    whose = np.repeat(np.arange(len(due)), count)
    number = 1 + np.arange(len(whose)) - np.repeat(np.cumsum(count) - count, count)
    later = np.floor(from_day[whose] + (number - 1) * gap[whose])
    return whose, number, np.where(number == 1, due[whose], later).astype(int)


def levelled(due: np.ndarray, open_days: np.ndarray, *, capacity: int, slack_days: int) -> Levelled:
    """Spread cleans over open days, each once, none earlier than `slack_days` before it is due, never over the capacity.

    due: days after the start, whole, under 0 where overdue; what is overdue has `slack_days` from the start on.
    open_days: the days that can be used, rising, with len(due) / capacity of them after the last due day. Where a due day and
    the slack before it are closed, the next open day is no lateness. First earliest due date first, which makes the greatest
    lateness least (Jackson 1955, from memory); then each goes as near to its due date as that leaves room for, but while there
    are overdue ones everything of the first `slack_days` at once.
    """
    until = np.where(due < 0, slack_days, due)
    order = np.lexsort((due, until))
    until, is_overdue = until[order], due[order] < 0
    first = np.searchsorted(open_days, np.maximum(until - slack_days, 0), side="left")
    last = np.maximum(first, np.searchsorted(open_days, until, side="right") - 1)
    earliest = _in_turn(first, capacity)
    is_at_once = is_overdue.any() & (until <= slack_days)
    latest = np.where(is_at_once, earliest, np.maximum(last, earliest))
    # (the same rule from the end: what fits forwards fits backwards)
    place = -_in_turn(-latest[::-1], capacity)[::-1]
    is_late = place > last
    by_clean = np.empty(len(due), dtype=int)
    by_clean[order] = np.arange(len(due))
    late_days = np.where(is_late, open_days[place] - open_days[last], 0)
    return Levelled(open_days[place][by_clean], is_late[by_clean], int(late_days.max(initial=0)), _needed(first, last))


def _in_turn(first: np.ndarray, capacity: int) -> np.ndarray:
    """Return the place of each in turn, from its first possible one on (these rise), with so many to a place."""
    found = np.empty(len(first), dtype=int)
    place, taken = int(first.min(initial=0)) - 1, 0
    for number, one in enumerate(first.tolist()):
        if one > place:
            place, taken = one, 0
        elif taken == capacity:
            place, taken = place + 1, 0
        found[number] = place
        taken += 1
    return found


def _needed(first: np.ndarray, last: np.ndarray) -> int:
    low, high = 1, max(len(first), 1)
    while low < high:
        middle = (low + high) // 2
        if (_in_turn(first, middle) <= last).all():
            high = middle
        else:
            low = middle + 1
    return low
