"""What to look at next: the first thing on the list that would change what the answers can say."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

#: More rows set aside than this make every answer doubtful.
MUCH_SET_ASIDE = 0.05
#: More spells of unknown age than this leave the lifetime curve resting on the smaller part.
MUCH_UNKNOWN_AGE = 0.5


class Look(StrEnum):
    """What to look at next."""

    SET_ASIDE = "set_aside"
    NO_REGISTER = "no_register"
    EARLY_REGISTER = "early_register"
    PLAY_HOURS = "play_hours"
    UNKNOWN_AGE = "unknown_age"
    WORST_FAMILY = "worst_family"
    DEPTH = "depth"


@dataclass(frozen=True)
class Standing:
    """What is known about the record."""

    set_aside_share: float
    is_lifetime_refused: bool
    has_early_units: bool
    is_in_days_for_want_of_hours: bool
    unknown_age_share: float
    is_family_apart: bool


def next_look(standing: Standing) -> Look:
    """Return the next thing to look at: data that mislead come first, then what the answers point to."""
    order = (
        (standing.set_aside_share > MUCH_SET_ASIDE, Look.SET_ASIDE),
        (standing.is_lifetime_refused, Look.NO_REGISTER),
        (standing.has_early_units, Look.EARLY_REGISTER),
        (standing.is_in_days_for_want_of_hours, Look.PLAY_HOURS),
        (standing.unknown_age_share > MUCH_UNKNOWN_AGE, Look.UNKNOWN_AGE),
        (standing.is_family_apart, Look.WORST_FAMILY),
    )
    return next((look for is_so, look in order if is_so), Look.DEPTH)
