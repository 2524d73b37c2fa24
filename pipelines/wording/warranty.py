"""Returns and warranties as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipelines.vocabulary import Because
from pipelines.wording.lots import money_words
from pipelines.wording.verdict import counted, limits_words, reason_words, share_words

#: Reasons of returns that are not known for more than this share leave the share of faults open.
MANY_UNKNOWN = 0.2


def no_sales_sentence() -> str:
    """Say that nothing is known of returns."""
    return "Nothing to say: no unit of a past lot was sold with a warranty long enough ago to tell whether it came back."


def group_sentence(
    counts: Mapping[str, int], because: Because | None, within: Sequence, longest, longest_given: int, told_to: int,
    accepted: float | None, currency: str | None,
) -> str:  # fmt: skip
    """Say which warranty stays within the accepted cost, then how many units came back by when.

    within, longest: those of `answers.warranty_record`; told_to: the last day with enough sales watched.
    """
    came = f"{counts['returned']:,} of {counted(counts['sales'], 'sold unit')} came back so far."
    if because is not None:
        return f"{came} That is too little to say when: {reason_words(because)}."
    return " ".join([*_verdict(longest, longest_given, told_to, accepted, currency), came, *_shares(within)])


def _verdict(longest, longest_given: int, told_to: int, accepted: float | None, currency: str | None) -> list[str]:
    if longest.because is not None or accepted is None:
        return []
    cost = f"{money_words(accepted, currency)} a sold unit"
    sure, likely = longest.sure_days, longest.likely_days
    if not likely:
        return [f"No warranty, not even one of a day, stays within {cost}."]
    if not sure:
        said = f"A warranty of up to {_days(likely)} is likely to stay within {cost}, but of none is it almost sure."
    elif sure == likely:
        said = f"A warranty of up to {_days(sure)} almost surely stays within {cost}."
    else:
        said = f"A warranty of up to {_days(sure)} almost surely stays within {cost}, one of up to {_days(likely)} likely."
    if not longest.is_likely_open:
        return [said]
    why = "no longer one was given" if longest_given == told_to else "too few were given longer"
    return [said, f"Of longer ones than {_days(told_to)} the record cannot tell: {why}."]


def _shares(within: Sequence) -> list[str]:
    """Return the shares of the shortest and the longest time that can be told."""
    told = [one for one in within if one.returned.because is None]
    if not told:
        return []
    ends = told[:1] if len(told) == 1 else [told[0], told[-1]]
    parts = [
        f"{share_words(one.returned.estimate)} within {_days(one.days)} "
        f"({limits_words(one.returned.low, one.returned.high, share_words)})"
        for one in ends
    ]
    return [f"Of those sold long enough ago it was {' and '.join(parts)}; for a fault {_fault(ends[-1])}."]


def _fault(one) -> str:
    return f"{share_words(one.returned_for_fault.estimate)} within {_days(one.days)}"


def warranty_warnings(counts: Sequence[Mapping[str, int]]) -> list[str]:
    """Say what to mind. counts: those of all sales together, or none."""
    said = []
    for one in counts:
        if one["still_watched"]:
            said.append(
                f"{one['still_watched']:,} of {counted(one['sales'], 'sale')} are still under warranty: each counts only as long "
                "as it was watched, not as one that held."
            )
        if one["reason_unknown"] > MANY_UNKNOWN * one["returned"]:
            said.append(
                f"Of {one['reason_unknown']:,} of {counted(one['returned'], 'return')} the reason is not known; none of them "
                "counts as a fault, so faults are at least what is said."
            )
    return said


def _days(days: int) -> str:
    return counted(days, "day")
