"""Ratios and rates as words: '25 % fewer', '2.4 per 1,000 play hours'."""

from __future__ import annotations

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Clock
from pipelines.wording.verdict import SPACE


def change_words(ratio: float, *, less: str = "fewer", more: str = "more") -> str:
    """Return '25 % fewer' of 0.75, '12 % more' of 1.12, '3.1 times as many' from 2 on, 'as many' where that rounds to 0."""
    percent = round(abs(ratio - 1) * 100)
    if percent == 0:
        return "as many" if less == "fewer" else "as much"
    if ratio >= 2:
        return f"{ratio:.1f} times as {'many' if less == 'fewer' else 'much'}"
    if percent == 100 and ratio < 1:
        return f"over 99{SPACE}% {less}"
    return f"{percent}{SPACE}% {less if ratio < 1 else more}"


def against_words(ratio: float, what: str, *, less: str = "fewer", more: str = "more") -> str:
    """Return '25 % fewer than expected' or 'as many as expected', where what it is held against is 'expected'."""
    said = change_words(ratio, less=less, more=more)
    return f"{said} {'than' if said.endswith((less, more)) else 'as'} {what}"


def change_limits(ratio: Estimate, *, less: str = "fewer", more: str = "more") -> str:
    """Return '10 % fewer to 38 % fewer', or the one limit that there is."""
    said = [None if one is None else change_words(one, less=less, more=more) for one in (ratio.low, ratio.high)]
    if None not in said:
        return said[0] if said[0] == said[1] else f"{said[0]} to {said[1]}"
    if said == [None, None]:
        return "no limits from this log"
    return f"at most {said[1]}" if said[0] is None else f"at least {said[0]}"


def rate_words(value: float | None) -> str:
    """Return '2.44', with as many digits as tell something."""
    if value is None:
        return "–"
    return f"{value:,.2f}" if value < 10 else f"{value:,.1f}" if value < 100 else f"{value:,.0f}"


def exposure_words(clock: Clock | str) -> str:
    """Return what faults are counted against: '1,000 play hours' or '1,000 days in service'."""
    return "1,000 play hours" if clock == Clock.HOURS else "1,000 days in service"


def watched_words(exposure: float, clock: Clock | str) -> str:
    """Return '12,300 play hours' or '5,200 days in service'."""
    return f"{exposure:,.0f} {'play hours' if clock == Clock.HOURS else 'days in service'}"
