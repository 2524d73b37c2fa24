"""Seats, sites, sides and technicians against luck, as sentences. Records are those of `answers.fault_rates_record`."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.vocabulary import Because, Clock
from pipelines.wording.costs import cost_words
from pipelines.wording.verdict import counted, limits_words, reason_words, share_words, value_words

#: More than this are not named one by one.
_NAMED = 4
_WHAT = {"station": "seat", "site": "site", "stick": "side", "technician": "technician"}
_TITLE = {"station": "Seats", "site": "Sites", "stick": "Left and right", "technician": "Who repaired"}
_ADVICE = {"replace": "replace it", "keep": "keep it", "cannot_tell": "cannot tell"}
_FAULTS = {"station": "faults", "site": "faults", "stick": "faults", "technician": "jobs come back"}
_MISSING = {
    "station": "The log has no table of which controller served which seat when (assignments), so no rate of a seat can be told.",
    "site": "The log names no site.",
    "stick": "The log names no side.",
    "technician": "The log does not say who repaired what.",
}


def what_words(what: str) -> str:
    """Return 'seat' of `station`."""
    return _WHAT[what]


def title_words(what: str) -> str:
    """Return the heading of a comparison."""
    return _TITLE[what]


def place_words(what: str, name: str) -> str:
    """Return the everyday name of a place."""
    return value_words("stick", name) if what == "stick" else name


def advice_words(advice: str) -> str:
    """Return what to do with a controller."""
    return _ADVICE[advice]


def times_words(ratio: float) -> str:
    """Return '2.7 times'."""
    return f"{ratio:.1f} times" if ratio < 10 else f"{ratio:.0f} times"


def rate_words(rate: float) -> str:
    """Return a rate with as many digits as it bears."""
    return f"{rate:.2f}" if rate < 10 else f"{rate:,.1f}"


def per_words(clock: Clock) -> str:
    """Return what rates are per."""
    return "per 1,000 play hours" if clock is Clock.HOURS else "per 1,000 days"


def place_note(what: str, place) -> str:
    """Return what to mind of a place: why it is not compared, that it stands out, or that it had one controller."""
    if place.because is Because.CONFOUNDED:
        return "nothing like it elsewhere to hold it against"
    if place.because is not None:
        return reason_words(place.because)
    parts = ["more than luck"] if place.is_worse else []
    if not place.is_worse and place.ratio is not None and place.luck_high is not None and place.ratio > place.luck_high:
        parts.append("luck among so many")
    if what == "station" and place.is_worse and place.units == 1:
        parts.append("one controller only, so it may be that")
    return "; ".join(parts)


def whole_sentence(comparisons: Sequence) -> str:
    """Return the sentence of the whole answer: seats first, then the others that can be told."""
    first, *others = comparisons
    return " ".join([first.sentence, *(one.sentence for one in others if one.because is None or one.what == "site")])


def comparison_sentence(what: str, because: Because | None, places: Sequence, clock: Clock, level: float) -> str:
    """Say which places have more faults than luck explains, or that none has, or why that cannot be told."""
    one = _WHAT[what]
    if because is Because.NOT_RECORDED:
        return _MISSING[what]
    if because is Because.ONE_LEVEL:
        return f"Nothing to compare: {counted(len(places), one)} on record with others of the same families."
    if because is not None:
        return f"{one.capitalize()}s cannot be compared: {reason_words(because)}."
    compared = [place for place in places if place.because is None]
    worse = [place for place in compared if place.is_worse]
    if not worse:
        some = f"{len(compared):,} {one}s"
        luck = "than luck explains" if len(compared) < 10 else f"than luck gives some {one} among so many"
        return f"No {one} stands out: none of {some} has more {_FAULTS[what]} {luck}."
    said = "; ".join(_worse_words(what, place) for place in worse[:_NAMED])
    more = f" and {len(worse) - _NAMED:,} more" if len(worse) > _NAMED else ""
    stands = "stands" if len(worse) == 1 else "stand"
    head = f"{counted(len(worse), one)} of {len(compared):,} {stands} out beyond luck: {said}{more}."
    by_luck = len(compared) * (1 - level) / 2
    if by_luck >= 1:
        head += f" Luck's limit is for one {one} alone: among {len(compared):,} about {by_luck:.0f} lie above it by luck."
    if what == "station" and any(place.units == 1 for place in worse):
        head += " Where a seat had one controller only it may be the controller: swap it with another and look again."
    return head


def _worse_words(what: str, place) -> str:
    seen = f"{place.failures:,} jobs back" if what == "technician" else counted(place.failures, "fault")
    return (
        f"{place_words(what, place.name)}, {seen} where {place.expected:,.1f} would be expected "
        f"({times_words(place.ratio)}, luck's limit {times_words(place.luck_high)})"
    )


def warnings(record) -> list[str]:
    """Say what to mind. record: an `answers.seat_record.SeatRecord`."""
    said = []
    if record.clock is Clock.DAYS:
        said.append(
            f"Shown in days: play hours are missing for {record.hours.without:,} of {_stretches(record.hours.total)}, so a seat "
            "that is played more looks worse; only the usage class of its controllers is allowed for."
        )
    elif record.untold_spells:
        said.append(f"{_stretches(record.untold_spells)} without usable play hours count for nothing.")
    if record.overlapping:
        said.append(
            f"{record.overlapping:,} of {counted(record.stays, 'stay')} at seats overlap the next of the same controller; each "
            "was ended where the next began."
        )
    if record.stays and record.unplaced["station"]:
        said.append(f"{counted(record.unplaced['station'], 'fault')} fell while no seat was assigned.")
    if record.stays and record.clock is Clock.HOURS:
        dark = sum(1 for place in record.rates["station"].places if place.because is Because.NO_SPELLS)
        if dark:
            said.append(f"{counted(dark, 'seat')} had no usable play hours and cannot be compared.")
    return said


def _stretches(count: int) -> str:
    return f"{counted(count, 'stretch', 'stretches')} of use"


def retire_sentence(repeated: Sequence, missing: Sequence, least: int) -> str:
    """Say which controllers to replace. missing: what is asked for (`answers.lot_money.Missing`)."""
    if not repeated:
        return f"No controller in service has failed {least} times."
    head = f"{counted(len(repeated), 'controller')} in service failed {least} times or more"
    if missing:
        wanted = ", ".join(cost_words(one.name).lower() for one in missing)
        return f"{head}. Whether one should go needs from you: {wanted}."
    replace = [one for one in repeated if one.money.advice == "replace"]
    open_ones = sum(one.money.advice == "cannot_tell" for one in repeated)
    if not replace:
        return f"{head}; for none is it likely enough that another in its place would be cheaper ({open_ones:,} cannot be told)."
    names = ", ".join(one.unit for one in replace[:_NAMED]) + (" …" if len(replace) > _NAMED else "")
    return (
        f"{head}; {len(replace):,} {'is' if len(replace) == 1 else 'are'} likely cheaper to replace ({names}), "
        f"{open_ones:,} cannot be told, the rest are likely cheaper to keep."
    )


def factor_words(factor) -> str:
    """Return how often it fails against a typical one, with limits."""
    span = limits_words(factor.low, factor.high, lambda value: f"{value:.1f}")
    return f"{times_words(factor.estimate)} ({span})"


def back_words(share) -> str:
    """Return a share that came back with its limits, or why not."""
    if share is None or share.estimate is None:
        return reason_words(share.because) if share is not None else "–"
    return f"{share_words(share.estimate)} ({limits_words(share.low, share.high, share_words)})"
