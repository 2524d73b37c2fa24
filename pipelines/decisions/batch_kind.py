"""What kind of worse a batch is, in one word."""

from __future__ import annotations

from enum import StrEnum

from pipelines.estimates.ratio_by_age import RatioByAge

#: Shapes that differ by less than this are the same kind of failure.
SAME_SHAPE = 1.0
#: Where the batch may fail so many times as often as the rest, "not shown to differ" says nothing.
DOUBLE = 2.0


class BatchKind(StrEnum):
    """crossing: better up to an age and worse after, or the other way; early, late: worse, most of all among the young, or
    the old; same_kind: worse at all ages alike; worse: of which kind is too little known; the others say themselves."""

    CROSSING = "crossing"
    EARLY = "early"
    LATE = "late"
    SAME_KIND = "same_kind"
    WORSE = "worse"
    BETTER = "better"
    NOT_SHOWN = "not_shown"
    TOO_FEW = "too_few"


def batch_kind(found: RatioByAge, *, level: float) -> BatchKind:
    """Return the word. It is one of change with age only where that is shown, which by luck happens in 1 − level of the cases."""
    ratio, change = found.ratio, found.change
    is_worse = ratio.low is not None and ratio.low > 1
    is_changing = found.change_p is not None and found.change_p < 1 - level
    if is_changing and found.rates_cross.low is not None and found.rates_cross.high is not None:
        return BatchKind.CROSSING
    if is_changing and change.estimate < 0 and (is_worse or found.early.low > 1):
        return BatchKind.EARLY
    if is_changing and change.estimate > 0 and (is_worse or found.late.low > 1):
        return BatchKind.LATE
    if is_worse:
        is_same = change.low is not None and change.low > -SAME_SHAPE and change.high < SAME_SHAPE
        return BatchKind.SAME_KIND if is_same else BatchKind.WORSE
    if ratio.high is None or ratio.high >= DOUBLE:
        return BatchKind.TOO_FEW
    return BatchKind.BETTER if ratio.high < 1 else BatchKind.NOT_SHOWN
