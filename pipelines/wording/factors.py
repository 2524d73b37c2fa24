"""What goes with early drift, as sentences: never more than "goes with"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipelines.vocabulary import Because, Question
from pipelines.wording.verdict import column_words, counted, group_words, level_words, limits_words, reason_words

_HEAD = {Question.TIME_TO_FAILURE: "First life", Question.RECURRENCE: "After a clean"}
_WHAT = {Question.TIME_TO_FAILURE: "module", Question.RECURRENCE: "passed clean"}
_EVENT = {Question.TIME_TO_FAILURE: "began to drift", Question.RECURRENCE: "drifted again"}
_FAILS = {Question.TIME_TO_FAILURE: "fails", Question.RECURRENCE: "drifts again"}
_SAME = {Question.TIME_TO_FAILURE: "at the same age", Question.RECURRENCE: "as long after the clean"}
_WHY = {
    "confounded": "cannot be told from the others",
    "one_level": "nothing to compare",
    "blank": "blank on over a fifth of those that did not fail",
}


@dataclass(frozen=True)
class Contrast:
    """Two levels of one factor, the one that fails more often first; ratios of the first to the second with limits.

    pooled: how many rare levels stand together under `other`, where one of the two is that; else 0.
    """

    factor: str
    first: str | None
    second: str | None
    pooled: int
    hazard: tuple[float, float | None, float | None]
    life: tuple[float | None, float | None, float | None]


def factors_sentence(
    of: Question, *, spells: int, failures: int, level: float, compared: int, clear: int, clearest: Contrast | None,
    changing: Sequence[str], left_out: Mapping[str, Sequence[str]], is_told_by_family: bool = False,
) -> str:  # fmt: skip
    """Say the clearest difference, how many there are, and what could not be compared.

    is_told_by_family: stick is left out because the families with a single stick tell it.
    """
    parts = [f"{head_words(of)}: {failures:,} of {counted(spells, _WHAT[of])} {_EVENT[of]}."]
    if clearest is not None:
        parts.append(_clearest(of, clearest, level))
        parts.append(f"{clear:,} of {compared:,} ratios differ from 1 beyond their interval. A difference goes with its column; "
                     "whether it is the cause, a log cannot tell.")  # fmt: skip
    elif compared:
        parts.append(f"No difference is shown: all {compared:,} intervals hold a ratio of 1.")
    else:
        parts.append("No ratio has limits.")
    if changing:
        names = " and ".join(column_words(name) for name in changing)
        parts.append(f"For {names} the ratio changes with {_age(of)}: read it as an average.")
    out = [f"{', '.join(column_words(name) for name in names)} ({_WHY[why]})" for why, names in left_out.items() if names]
    if out:
        parts.append(f"Left out: {'; '.join(out)}.")
    if is_told_by_family:
        parts.append("Which sticks are single, their family tells; filter by the sticks left and right to compare these.")
    return " ".join(parts)


def refused_sentence(of: Question, because: Because, *, spells: int, failures: int) -> str:
    """Say why nothing is compared."""
    if not spells:
        return f"{head_words(of)}: nothing to say, as nothing was watched on this clock."
    head = f"{head_words(of)}: {failures:,} of {counted(spells, _WHAT[of])} {_EVENT[of]}."
    return f"{head} Nothing can be compared: {reason_words(because)}."


def sampled_warning(of: Question, *, used: int, all: int) -> str:
    """Say that only a part of a large log was used."""
    return (
        f"{head_words(of)}: compared on {used:,} of {counted(all, _WHAT[of], _WHAT[of] + 's')}: all those of controllers drawn "
        "at random."
    )


def sold_warning(of: Question, levels: Sequence[tuple[str, str | None]]) -> str:
    """Say that some levels were watched in another way. levels: factor and level."""
    named = " and ".join(group_words(factor, level) for factor, level in levels)
    return (
        f"{head_words(of)}: nearly all of {named} was sold, so drift there is seen only if the buyer sends the "
        "controller back in time. Such ratios tell how drift is seen, not how soon it comes; the sentence leaves them out."
    )


def head_words(of: Question) -> str:
    """Return what a group is about."""
    return _HEAD[of]


def ratio_words(ratio: float) -> str:
    """Return '1.8', with enough digits to tell a ratio from 1."""
    if ratio >= 10:
        return f"{ratio:,.0f}"
    return f"{ratio:.1f}" if ratio >= 1.15 else f"{ratio:.2f}"


def _clearest(of: Question, one: Contrast, level: float) -> str:
    first, second = (_level(one, name) for name in (one.first, one.second))
    limits = limits_words(one.hazard[1], one.hazard[2], ratio_words)
    said = (
        f"Clearest difference: {first} {_FAILS[of]} {ratio_words(one.hazard[0])} times as often as {second} {_SAME[of]} "
        f"({level_words(level)} interval {limits}), all else compared being equal"
    )
    if one.life[0] is None:
        return f"{said}."
    lasts = limits_words(one.life[1], one.life[2], ratio_words)
    return f"{said}, and lasts {ratio_words(one.life[0])} times as long ({lasts})."


def _level(one: Contrast, name: str | None) -> str:
    if one.pooled and name == "other":
        return f"{column_words(one.factor)} other ({one.pooled:,} rare ones together)"
    return group_words(one.factor, name)


def _age(of: Question) -> str:
    return "age" if of is Question.TIME_TO_FAILURE else "the time since the clean"
