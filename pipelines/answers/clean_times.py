"""The times of day of a cleaning plan, where it keeps to hours."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from math import ceil

from pipelines.answers.cleaning_plan_record import PlannedClean
from pipelines.answers.open_hours import OpenHours, clock_words
from pipelines.decisions.clean_times import evenly, laid
from pipelines.errors import SettingError
from pipelines.wording.cleaning_plan import short_words


def timed(
    cleans: Sequence[PlannedClean], hours: OpenHours, *, capacity: int, stick_minutes: float | None
) -> list[PlannedClean]:  # fmt: skip
    """Return the cleans, those of a day together, with the times of each.

    stick_minutes: how long a stick takes; None: `capacity` cleans share the hours of a day evenly. Raises SettingError where
    the hours of a day are too short, saying of the worst by how much.
    """
    found, worst = [], (0, 0, "")
    for day, some in groupby(cleans, key=lambda one: one.planned_on):
        those, stretches = list(some), hours.on(dt.date.fromisoformat(day))
        if stick_minutes is None:
            minutes = [evenly(stretches, capacity)] * len(those)
        else:
            minutes = [max(ceil(stick_minutes * len(one.sticks.split("+"))), 1) for one in those]
        begins, short = laid(minutes, stretches)
        worst = max(worst, (short, len(those), day))
        found += [
            replace(one, begins_at=clock_words(begin), ends_at=clock_words(begin + length))
            for one, begin, length in zip(those, begins, minutes, strict=True)
        ]
    if worst[0]:
        raise SettingError(*short_words(*worst, hours=", ".join(hours.words), zone=hours.zone))
    return found
