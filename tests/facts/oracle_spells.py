"""Measure a spell on both clocks once its end is known, for the oracle."""

from __future__ import annotations

from dataclasses import dataclass

from tests.facts.oracle_hours import UnitHours


@dataclass
class OpenSpell:
    """A spell, or a module's life, that runs. Days are ordinals."""

    kind: str
    generation: int
    opened: int
    start: float | None  # the day of age zero; None: unknown
    origin_h: float | None  # the unit's hours at age zero; None: unknown
    is_from_zero: bool  # it opened at age zero: the hours then are 0, whatever the meter read
    read_on: int = 0  # the day whose hours it opened with: at the bench, where nobody plays
    sale: int | None = None
    until: int | None = None
    depth: str | None = None
    attempt_number: int | None = None
    mechanism: str | None = None
    last_sight: int | None = None


@dataclass(frozen=True)
class Watch:
    """Between which days the log was watched; failures and exposure are both cut at `cut`."""

    log_start: int
    log_end: int
    cut: float


def measured(spell: OpenSpell, *, end: float, lower: float | None, hours: UnitHours, watch: Watch) -> dict | None:
    """Return the two clocks of a spell that ended at `end`; `lower` None: censored. None: it has no length.

    A failure fell in (lower, end]. After the last followed day, or with its midpoint after the cut, it is not seen.
    """
    enter = max(spell.opened, watch.log_start)
    is_failure = lower is not None
    if spell.until is not None and end > spell.until:
        end, is_failure = spell.until, False
    if is_failure:
        lower = min(max(lower, enter), end)
        is_failure = (lower + end) / 2 <= watch.cut
    if not is_failure:
        end = min(end, watch.cut)
        lower = end
    days = _in_days(spell, enter, lower, end)
    in_hours = _in_hours(spell, enter, lower, end, is_failure, hours)
    if spell.opened > watch.cut or end < enter or not (_has_length(days) or _has_length(in_hours)):
        return None
    return {
        "is_failure": is_failure,
        "is_age_known_days": spell.start is not None,
        "is_age_known_hours": spell.origin_h is not None,
        **{f"{name}_days": value for name, value in days.items()},
        **{f"{name}_h": value for name, value in in_hours.items()},
    }


def _in_days(spell: OpenSpell, enter: float, lower: float, upper: float) -> dict:
    start = spell.opened if spell.start is None else spell.start
    return {"entry": enter - start, "lower": lower - start, "upper": upper - start, "at": (lower + upper) / 2 - start}


def _in_hours(spell: OpenSpell, enter: float, lower: float, upper: float, is_failure: bool, hours: UnitHours) -> dict:
    at_opening = hours.on(spell.read_on)
    at_entry = at_opening if enter == spell.opened else hours.on(enter)
    origin = at_opening if spell.origin_h is None else spell.origin_h
    if spell.is_from_zero and enter == spell.opened:
        at_entry = origin
    if is_failure:
        ends = at_entry if lower <= enter else hours.on(lower), hours.on(upper)
    else:
        ends = (hours.until(upper, after=enter),) * 2
    if None in (origin, at_entry, *ends):
        return {"entry": None, "lower": None, "upper": None, "at": None}
    if is_failure:
        ends = min(max(ends[0], at_entry), ends[1]), ends[1]
    return {
        "entry": at_entry - origin,
        "lower": ends[0] - origin,
        "upper": ends[1] - origin,
        "at": sum(ends) / 2 - origin,
    }


def _has_length(clock: dict) -> bool:
    return clock["at"] is not None and clock["at"] > clock["entry"]
