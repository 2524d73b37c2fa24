"""An estimate with its limits, in words: ages, shares and plain numbers."""

from __future__ import annotations

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Clock
from pipelines.wording.verdict import duration_words, limits_words, reason_words, share_words

#: Beyond a hundred years a limit is not a number that anybody can use.
LONGEST = {Clock.DAYS: 36_525.0, Clock.HOURS: 876_600.0}


def time_words(one: Estimate, clock: Clock) -> str:
    """Return '300 play hours (200 to 400 play hours)'."""

    def say(value: float) -> str:
        return duration_words(value, clock) if value <= LONGEST[clock] else "over 100 years"

    if one.estimate is None:
        return f"an age not told ({reason_words(one.because or Because.NOT_REACHED)})"
    return f"{say(one.estimate)} ({limits_words(one.low, one.high, say)})"


def interval_words(one: Estimate) -> str:
    """Return '83 % (79 to 86 %)' of a share."""
    return f"{share_words(one.estimate)} ({limits_words(one.low, one.high, share_words)})"


def number_words(one: Estimate) -> str:
    """Return '1.40 (1.10 to 1.70)'."""
    return f"{one.estimate:.2f} ({limits_words(one.low, one.high, lambda limit: f'{limit:.2f}')})"


def bound_words(one: Estimate, clock: Clock) -> str:
    """Return the age itself, or the lower limit where there is no more."""
    value = one.low if one.estimate is None else one.estimate
    return "no age" if value is None else duration_words(value, clock)


def times_words(ratio: float) -> str:
    """Return '20 % later' or '2.5 times as late' of a ratio of ages."""
    change = abs(ratio - 1)
    if change >= 1:
        return f"{ratio:.1f} times as late"
    return f"{share_words(change)} {'later' if ratio > 1 else 'sooner'}"
