"""What the evidence against a batch says to do: nothing yet, watch it, or stop buying it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.vocabulary import AlarmLevel

#: With fewer failures expected, one three times as bad is more likely missed than not, so that silence says nothing.
LEAST_EXPECTED = 4.0


@dataclass(frozen=True)
class Limits:
    """The evidence from which to watch a batch, and from which to stop buying it."""

    watch: float
    stop: float


@dataclass(frozen=True)
class Alarm:
    """level: what to do; an alarm once raised stands, whatever the evidence does later. watch_look, stop_look: the first look at
    which the evidence reached that limit, None where it never did."""

    level: AlarmLevel
    watch_look: int | None
    stop_look: int | None


def alarm_of(log_evidence: np.ndarray, *, expected: float, limits: Limits) -> Alarm:
    """Return the alarm of one batch. log_evidence: by look; expected: failures up to the last, 0 where nothing is like it."""
    watch, stop = (_first(log_evidence, limit) for limit in (limits.watch, limits.stop))
    if stop is not None:
        level = AlarmLevel.STOP
    elif watch is not None:
        level = AlarmLevel.WATCH
    elif not expected:
        level = AlarmLevel.UNWATCHED
    else:
        level = AlarmLevel.TOO_EARLY if expected < LEAST_EXPECTED else AlarmLevel.QUIET
    return Alarm(level, watch, stop)


def _first(log_evidence: np.ndarray, limit: float) -> int | None:
    reached = np.flatnonzero(log_evidence >= np.log(limit))
    return int(reached[0]) if len(reached) else None
