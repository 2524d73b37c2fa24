"""Failures known only to lie between two visits, as sentences. Each function takes a part of the record."""

from __future__ import annotations

from pipelines.estimates.dating import MISLEADING_SHARE
from pipelines.vocabulary import Clock
from pipelines.wording.estimate import time_words, times_words
from pipelines.wording.verdict import SPACE, counted, duration_words, reason_words


def dating_sentence(part) -> str:
    """Say what dating failures at the visit that found them would do."""
    between = f"{counted(part.between_count, 'failure')} lie between two visits"
    if part.between_count == 1:
        between = "1 failure lies between two visits"
    if part.because is not None:
        return f"{between}; what dating them at the visit would do cannot be told: {reason_words(part.because)}."
    if not part.is_misleading:
        return f"{between}; dating them at the visit that found them would change lives by no more than 5{SPACE}%."
    return f"{between}. Dated at the visit that found them, they would mislead: {_moves(part)}."


def dated_sentence(groups) -> str:
    """Say of several groups at once what dating failures at the visit that found them would do; nothing of a single one."""
    misled = [one.dating for one in groups if one.dating is not None and one.dating.is_misleading]
    if len(groups) < 2 or not misled:
        return ""
    most = max(misled, key=lambda one: max(abs(ratio - 1) for _, ratio in _off(one)))
    return (
        f"Dated at the visit that found them, failures would mislead in {len(misled):,} of {counted(len(groups), 'group')}, "
        f"at most by {_moves(most)}."
    )


def interval_sentence(part, clock: Clock) -> str:
    """Say what is sure where failures lie between two visits."""
    if part.because is not None:
        return f"The curve for failures between visits is not given: {reason_words(part.because)}."
    b10, median = part.b10, part.median
    given = f", of those that got to {duration_words(part.given_at, clock)}" if part.given_at else ""
    if b10.estimate is None:
        return f"Taking failures only as between their visits, fewer than one in ten are shown to have failed{given}."
    half = "the median is not reached" if median.estimate is None else f"half by {time_words(median, clock)}"
    return (
        f"Taking failures only as between their visits, one in ten are shown to have failed by {time_words(b10, clock)}, "
        f"{half}{given}."
    )


def _moves(part) -> str:
    return ", ".join(f"{what} {times_words(one)}" for what, one in _off(part))


def _off(part) -> list[tuple[str, float]]:
    """Return the ages that are off by enough to mislead."""
    moves = (("one in ten", part.b10_ratio), ("half", part.median_ratio))
    return [(what, one) for what, one in moves if one is not None and abs(one - 1) > MISLEADING_SHARE]
