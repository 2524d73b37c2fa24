"""At what time of the day each clean is done: one after another, within the hours in which cleaning may be done."""

from __future__ import annotations

from collections.abc import Sequence

#: From and to, minutes after midnight.
Stretch = tuple[int, int]


def laid(minutes: Sequence[int], stretches: Sequence[Stretch]) -> tuple[list[int], int]:
    """Return when each clean begins (minutes after midnight), and by how many minutes the last stretch is too short for them.

    minutes: how long each takes, in the order of the day; stretches: rising. What does not fit into the rest of a stretch
    begins the next one; what does not fit into the last one either goes on past its end.
    """
    coming = iter(stretches)
    now, end = next(coming, (0, 0))
    begins = []
    for length in minutes:
        while now + length > end and (following := next(coming, None)) is not None:
            now, end = following
        begins.append(now)
        now += length
    return begins, max(now - end, 0) if begins else 0


def evenly(stretches: Sequence[Stretch], count: int) -> int:
    """Return the most whole minutes of which `count` fit into the stretches; 1 where not even these do."""
    for length in range(max((end - begin for begin, end in stretches), default=0), 1, -1):
        if sum((end - begin) // length for begin, end in stretches) >= count:
            return length
    return 1
