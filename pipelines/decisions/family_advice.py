"""Which families to buy in bulk and which to stop buying, from the chance that a unit earns its price."""

from __future__ import annotations

from enum import StrEnum

#: A family is bought in bulk where a profit is at least this likely, and no longer bought where it is at most that likely.
LIKELY, UNLIKELY = 0.9, 0.1


class Advice(StrEnum):
    """What to do about a family at its going price."""

    BUY_IN_BULK = "buy_in_bulk"
    STOP_BUYING = "stop_buying"
    CANNOT_TELL = "cannot_tell"


def family_advice(earn_chance: float, *, is_thin: bool) -> Advice:
    """Return the advice; none on a thin family: so few units of its own that the others tell of it are no ground to buy."""
    if is_thin or UNLIKELY < earn_chance < LIKELY:
        return Advice.CANNOT_TELL
    return Advice.BUY_IN_BULK if earn_chance >= LIKELY else Advice.STOP_BUYING
