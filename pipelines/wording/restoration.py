"""What a clean gives back, as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipelines.vocabulary import Because
from pipelines.wording.verdict import counted, level_words, limits_words, reason_words, share_words, value_words

#: A share, its lower and its upper limit; None where not given.
Limits = tuple[float | None, float | None, float | None]

_NOT_RANKED = "Planned cleans count too, and worse sticks may get deeper ones: this does not say which is best."
_INSTEAD = "How long cleans hold can still be asked: recurrence by depth of clean and by attempt number."
_MEMORY = {
    "whole": "It takes off part of the whole age, not only of what came since the last clean.",
    "last": "It takes off only part of what came since the last clean; what was left then stays.",
}


def restoration_sentence(
    *, counts: Mapping[str, int], is_by_cause: bool, level: float, horizon: str, memory: str | None, is_memory_told: bool,
    given_back: Mapping[str, tuple[Limits, Because | None]], holding: Mapping[str, Limits],
) -> str:  # fmt: skip
    """Say what each depth of clean gives back and how many hold. given_back, holding: by depth; because: why not told."""
    told = {depth: limits for depth, (limits, because) in given_back.items() if because is None}
    parts = [_told(depth, limits, level if not place else None) for place, (depth, limits) in enumerate(told.items())]
    for reason in dict.fromkeys(because for _, because in given_back.values() if because):
        names = [value_words("depth", depth) for depth, (_, because) in given_back.items() if because is reason]
        parts.append(f"{_upper(_listed(names))}: {reason_words(reason)}.")
    if told:
        parts.append(_MEMORY[memory] if is_memory_told else "Whether it acts on the whole age or only on what came since the "
                     "last clean, this log cannot tell; the whole is taken.")  # fmt: skip
    held = [f"{_held(limits)} after {value_words('depth', depth)}" for depth, limits in holding.items() if limits[0] is not None]
    if held:
        parts.append(f"Still good {horizon} later: {', '.join(held)}.{f' {_NOT_RANKED}' if len(held) > 1 else ''}")
    whole = f"{counted(counts['gaps'], 'stretch', 'stretches')} in service, of {counted(counts['modules'], 'module')},"
    parts.append(f"{counts['failures']:,} of {whole} ended in drift.")
    if is_by_cause:
        parts.append(_causes(**counts))
    if counts["gaps_left_out"]:
        parts.append(
            f"Left out: {counts['gaps_left_out']:,} whose module's start, or an earlier stretch, is not known, or that follow a "
            "clean of a stick that nobody had tested."
        )
    if len(told) < len(given_back):
        parts.append(_INSTEAD)
    return " ".join(parts)


def groups_sentence(groups: Sequence[Sequence]) -> str:
    """Say of how many groups it can be told what a clean gives back. groups: the estimates of each, by depth."""
    told = sum(any(one.estimate is not None for one in estimates) for estimates in groups)
    return (
        f"What a clean gives back can be told for {told or 'none'} of {len(groups)} groups; how many sticks are still good some "
        "time later is told below."
    )


def refused_sentence(because: Because, *, failures: int = 0, gaps: int = 0) -> str:
    """Say that a group tells nothing of what a clean gives back, and where to look instead."""
    if not gaps:
        return "Nothing to say: no module was watched from its start on this clock."
    return (
        f"What a clean gives back cannot be told: {reason_words(because)}. {failures:,} of "
        f"{counted(gaps, 'stretch', 'stretches')} in service ended in drift. {_INSTEAD}"
    )


def sampled_warning(*, used: int, of: int) -> str:
    """Say that only a part of a large log was used."""
    return f"Worked out from {used:,} of {of:,} stretches in service: all those of controllers drawn at random."


def many_warning(*, used: int, of: int) -> str:
    """Say that only the largest groups were worked out."""
    return f"Worked out for the {used} of {of} groups with the most stretches in service; ask for the others with a filter."


def named_warning() -> str:
    """Say that the share is of drift from dirt."""
    return (
        "What is given back is of the drift that dirt and spills cause; no clean gives back wear. Causes written down wrongly "
        "make it look smaller than its interval allows for."
    )


def _causes(*, failures: int, failures_counted: int, failures_unnamed: int, **_: int) -> str:
    other = failures - failures_counted - failures_unnamed
    unnamed = f", and {failures_unnamed:,} have no cause recorded and are not counted either" if failures_unnamed else ""
    return (
        f"{failures_counted:,} of these are put down to dirt or spills, which is what a clean can take away; {other:,} of "
        f"{failures:,} were of wear and other causes, which no clean gives back{unnamed}."
    )


def _told(depth: str, limits: Limits, level: float | None) -> str:
    share, low, high = limits
    name = _upper(value_words("depth", depth))
    interval = f"{level_words(level)} interval " if level else ""
    if share < 0.005:
        most = "" if high is None else f" ({interval}at most {share_words(high)})"
        return (
            f"{name}: no sign that any of the age of the dirt is given back{most}; such sticks drift again as soon as others of "
            "their age that were not cleaned, be it that the cause stayed or that it came back."
        )
    return f"{name} gives back {share_words(share)} of the age of the dirt ({interval}{limits_words(low, high, share_words)})."


def _held(limits: Limits) -> str:
    return f"{share_words(limits[0])} ({limits_words(limits[1], limits[2], share_words)})"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
