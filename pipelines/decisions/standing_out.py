"""Which group stands out, and whether the log is sure of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: No group is called best or worst on fewer than this many. Simulated: with fewer, the pick is mostly luck.
LEAST = 8


@dataclass(frozen=True)
class Rated:
    """A group with the estimate it is compared by; a limit of None is open. `count` is what it rests on."""

    name: str
    estimate: float
    low: float | None
    high: float | None
    count: int


@dataclass(frozen=True)
class StandingOut:
    """The two ends of the groups that are large enough. `is_apart`: their intervals do not overlap."""

    highest: Rated | None
    lowest: Rated | None
    is_apart: bool
    compared_count: int
    too_small_count: int


def standing_out(rated: Sequence[Rated], *, least: int = LEAST) -> StandingOut:
    """Return the highest and lowest of the groups resting on at least `least`; None of either under two groups.

    Two intervals apart is a stricter demand than a test at the same level, which leaves room for having looked at
    many groups.
    """
    large = sorted((one for one in rated if one.count >= least), key=lambda one: (one.estimate, one.name))
    if len(large) < 2:
        return StandingOut(None, None, False, len(large), len(rated) - len(large))
    lowest, highest = large[0], large[-1]
    top = math.inf if lowest.high is None else lowest.high
    bottom = -math.inf if highest.low is None else highest.low
    return StandingOut(highest, lowest, bottom > top, len(large), len(rated) - len(large))
