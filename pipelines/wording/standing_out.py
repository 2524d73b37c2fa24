"""What stands out, as sentences: plain numbers in, plain words out."""

from __future__ import annotations

from collections.abc import Callable

from pipelines.vocabulary import Clock
from pipelines.wording.verdict import counted, duration_words, limits_words, share_words

#: (name, estimate, low, high, count) of one group.
Named = tuple[str, float, float | None, float | None, int]

_NEXT = {
    "set_aside": "Look at what was set aside first: so many rows that every answer may change.",
    "no_register": "Load a register of units: without it lifetimes cannot be told.",
    "early_register": "Settle when watching began: units were in service long before the first job, so lives may look too long.",
    "play_hours": "Look at the sites one by one: over all of them too many play hours are missing, so lifetimes are in days.",
    "unknown_age": "Note since when a module has been in service: most ages are unknown.",
    "worst_family": "See how long cleans hold on {family}, and by which depth.",
    "depth": "See which depth of clean holds longest.",
}


def cleaning_contrast(highest: Named, lowest: Named, *, is_apart: bool) -> str:
    """Say for whom cleaning passes most and least often; clearly, where their intervals are apart."""
    if not is_apart:
        return _nobody(highest, lowest, share_words, "Passed the same day:")
    return f"Cleaning passes clearly most often for {_share(highest)}, least often for {_share(lowest)}."


def life_contrast(highest: Named, lowest: Named, *, clock: Clock, measure: str, is_apart: bool) -> str:
    """Say who lasts longest and shortest; clearly, where their intervals are apart.

    measure: 'half drift by' or 'one in ten drift by'.
    """

    def time(value: float) -> str:
        return duration_words(value, clock)

    if not is_apart:
        return _nobody(highest, lowest, time, f"{measure[0].upper()}{measure[1:]}")
    return (
        f"Clearly shortest is {lowest[0]}: {measure} {_span(lowest, time)}. Longest is {highest[0]}: {measure} "
        f"{_span(highest, time)}."
    )


def cannot_compare(*, compared: int, too_small: int) -> str:
    """Say why no group is named."""
    if compared + too_small < 2:
        return "There is only one group, so nothing to compare."
    return f"Too few to compare: {counted(too_small, 'group')} with too little behind {'it' if too_small == 1 else 'them'}."


def set_aside_words(*, read: int, loaded: int, set_aside: int) -> str:
    """Say how much of the exports went in."""
    if set_aside == 0:
        return f"All {loaded:,} lines of the exports were loaded; none was set aside."
    rest = read - loaded - set_aside
    others = f"; the other {rest:,} are headings, blank or stand elsewhere too" if rest else ""
    return (
        f"{set_aside:,} of {read:,} lines ({share_words(set_aside / read)}) were set aside, each listed with its reason; "
        f"{loaded:,} were loaded{others}."
    )


def next_words(look: str, *, family: str) -> str:
    """Say what to look at next; `look` is one of the decision's words."""
    return _NEXT[look].format(family=family)


def _nobody(highest: Named, lowest: Named, say: Callable[[float], str], what: str) -> str:
    return (
        f"{what} {say(lowest[1])} ({lowest[0]}) to {say(highest[1])} ({highest[0]}), but their intervals overlap: "
        "no one clearly stands out."
    )


def _share(named: Named) -> str:
    name, share, low, high, count = named
    return f"{name} ({share_words(share)} of {counted(count, 'attempt')}; {limits_words(low, high, share_words)})"


def _span(named: Named, say: Callable[[float], str]) -> str:
    _, value, low, high, count = named
    return f"{say(value)} ({limits_words(low, high, say)}; {counted(count, 'failure')})"
