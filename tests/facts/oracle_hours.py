"""The play hours of one unit on any day, for the oracle: readings put in order, mended and interpolated."""

from __future__ import annotations

from tests.facts.oracle_rows import Row

BASES = ("metered", "sessions")
SOURCES = ("meter", "sessions")


class UnitHours:
    """Hours of one unit by day. Days are ordinals and may be halves."""

    def __init__(self, readings: dict[int, float]):
        self.readings = dict(sorted(readings.items()))

    def on(self, day: float) -> float | None:
        """Return the hours on a day, on the line between its neighbours; None outside the readings."""
        if day in self.readings:
            return self.readings[day]
        before = [read for read in self.readings if read < day]
        after = [read for read in self.readings if read > day]
        if not before or not after:
            return None
        first, last = max(before), min(after)
        share = (day - first) / (last - first)
        return self.readings[first] + share * (self.readings[last] - self.readings[first])

    def until(self, day: float, *, after: float) -> float | None:
        """Return the hours on a day, else at the last reading before it that lies after `after`."""
        exact = self.on(day)
        if exact is not None:
            return exact
        seen = [read for read in self.readings if after < read <= day]
        return self.readings[max(seen)] if seen else None


def unit_hours(
    jobs: list[Row], read: list[Row], *, new_since: int | None, is_basis_given: bool, is_source_given: bool
) -> UnitHours:
    """Return the hours of one unit from its jobs and its readings; `new_since`: the day on which it had 0 hours."""
    taken = [
        (row["received_on"].toordinal(), row["usage_hours"], False)
        for row in jobs
        if row["usage_hours"] is not None and (not is_basis_given or row["usage_basis"] in BASES)
    ] + [
        (row["read_on"].toordinal(), row["hours"], bool(row["meter_reset"]))
        for row in read
        if row["hours"] is not None and (not is_source_given or row["source"] in SOURCES)
    ]
    if new_since is not None:
        taken.append((new_since, 0.0, False))
    by_day: dict[int, float] = {}
    for day, hours in _with_resets_added(taken):
        by_day[day] = max(hours, by_day.get(day, hours))
    return UnitHours(_without_falls(_within_the_calendar(by_day, new_since)))


def _with_resets_added(taken: list[tuple[int, float, bool]]) -> list[tuple[int, float]]:
    """A new meter begins again: add what the old one showed last."""
    added, last, found = 0.0, 0.0, []
    taken = sorted(taken, key=lambda one: (one[0], one[2], one[1]))
    before = {day: [hours for other, hours, _ in taken if other < day][-1:] for day, _, is_reset in taken if is_reset}

    def place(one: tuple[int, float, bool]) -> tuple[int, int, float]:
        """On the day of a change, what shows less than the old meter did is the new one."""
        day, hours, is_reset = one
        is_new = not is_reset and any(hours < shown for shown in before.get(day, []))
        return day, 1 if is_reset else 2 * is_new, hours

    for day, hours, is_reset in sorted(taken, key=place):
        if is_reset:
            added = last
        last = hours + added
        found.append((day, last))
    return found


def _within_the_calendar(by_day: dict[int, float], new_since: int | None) -> dict[int, float]:
    kept, before = {}, None
    for day, hours in sorted(by_day.items()):
        is_beyond_age = new_since is not None and hours > 24 * (day - new_since) + 24
        is_beyond_gap = before is not None and hours - before[1] > 24 * (day - before[0] + 1)
        if not is_beyond_age and not is_beyond_gap:
            kept[day] = hours
        before = (day, hours)
    return kept


def _without_falls(by_day: dict[int, float]) -> dict[int, float]:
    kept, largest = {}, float("-inf")
    for day, hours in sorted(by_day.items()):
        if hours >= largest:
            kept[day] = largest = hours
    return kept
