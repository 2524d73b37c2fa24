"""Lives of groups that borrow from each other, as sentences."""

from __future__ import annotations

from pipelines.vocabulary import Clock
from pipelines.wording.estimate import number_words, time_words
from pipelines.wording.label import label
from pipelines.wording.verdict import reason_words

#: Below this chance of shapes so far apart, one shape for all groups is in doubt, and so is what groups borrow.
DOUBTFUL = 0.05


def ranked_count(groups) -> int:
    """Return how many groups have a rank."""
    return sum(one.pooled is not None and one.pooled.place.rank is not None for one in groups)


def is_doubtful(common) -> bool:
    """Tell whether the test of one shape for all groups speaks against it."""
    return common.is_plausible is False or (common.p_value is not None and common.p_value < DOUBTFUL)


def doubt_words(group, common) -> str:
    """Return the doubt about what a group borrows, to follow its sentence; nothing where there is none."""
    if common is not None and is_doubtful(common):
        return " Read it with care: the groups hardly share one shape, which this takes for granted."
    if _is_lognormal(group.laws):
        return " Read it with care: it takes a Weibull law, and a lognormal fits clearly better here."
    return ""


def place_words(place, ranked: int) -> str:
    """Return 'between 2nd and 6th of 12 by length of life'; the longest is first."""
    first, last = _ordinal(place.low), _ordinal(place.high)
    where = first if first == last else f"between {first} and {last}"
    return f"{where} of {ranked} by length of life"


def pooled_sentence(part, clock: Clock, *, ranked: int, doubt: str = "") -> str:
    """Say what a group's lives are once it borrows from the others, its place among those ranked, and a doubt about it."""
    if part.because is not None:
        return f"What the groups could borrow from each other cannot be told: {reason_words(part.because)}."
    place = f"; {place_words(part.place, ranked)}" if part.place.rank is not None else ""
    return (
        f"Judged together with the other groups, one in ten fail by {time_words(part.b10, clock)}, half by "
        f"{time_words(part.median, clock)}{place}.{doubt}"
    )


def pooled_doubt_sentence(groups) -> str:
    """Name the groups that do not wear by the law under which groups borrow from each other."""
    other = [label(one.by) for one in groups if one.pooled is not None and _is_lognormal(one.laws)]
    if not other:
        return ""
    named = f"{', '.join(other[:8])}{' and others' if len(other) > 8 else ''}"
    return f"What groups borrow is by Weibull laws, and a lognormal fits clearly better for {named}: prefer their own curves."


def common_shape_sentence(part, clock: Clock) -> str:
    """Say whether one law of wear serves all groups, and what a group never seen would do."""
    if part.because is not None:
        return f"Whether the groups wear alike cannot be told: {reason_words(part.because)}."
    shape = number_words(part.shape)
    if part.is_plausible is None:
        head = f"The groups are taken to share one Weibull shape, {shape}; too few of them have failures enough to test it."
    elif part.is_plausible and is_doubtful(part):
        head = f"One Weibull shape for all, {shape}, is in doubt (p = {part.p_value:.2f}): read with care what groups borrow."
    elif part.is_plausible:
        head = f"One Weibull shape for all groups, {shape}, is plausible."
    else:
        head = f"The groups wear in different ways: one Weibull shape for all, {shape}, is not plausible; prefer their own fits."
    return f"{head} In a group never seen half would fail by {time_words(part.unseen_median, clock)}."


def _is_lognormal(laws) -> bool:
    return laws is not None and laws.better == "lognormal"


def _ordinal(number: int) -> str:
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
