"""Whether faults have become fewer or more, in one word."""

from __future__ import annotations

from enum import StrEnum

from pipelines.estimates.estimate import Estimate

#: Where a halving would have been shown with at least this chance, "no change is shown" says something.
ENOUGH_POWER = 0.8


class Change(StrEnum):
    """Faults against those to compare with. not_shown: enough was watched, and the limits hold 1; cannot_tell: too little was."""

    FEWER = "fewer"
    MORE = "more"
    NOT_SHOWN = "not_shown"
    CANNOT_TELL = "cannot_tell"


def change_of(ratio: Estimate, power: float) -> Change:
    """Return the word for a ratio to what was to be expected; power: the chance that a halving would have been shown."""
    if ratio.high is not None and ratio.high < 1:
        return Change.FEWER
    if ratio.low is not None and ratio.low > 1:
        return Change.MORE
    return Change.NOT_SHOWN if power >= ENOUGH_POWER else Change.CANNOT_TELL
