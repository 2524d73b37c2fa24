"""The coming cleans of one stick, if those before them fail: draws of the chances that each passes, and that it then holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.hold_after_pass import Holds
from pipelines.estimates.triage import Triage
from pipelines.vocabulary import Because

#: Nobody plans further ahead.
MOST = 5


@dataclass(frozen=True)
class ComingCleans:
    """first_number: how-many-th clean of its module the next one is; passes, holds: draws of the chances, (draws, cleans).

    Raises InputError unless these are shares (0–1) of one shape.
    """

    first_number: int
    passes: np.ndarray
    holds: np.ndarray

    def __post_init__(self) -> None:
        is_shaped = np.ndim(self.passes) == 2 and np.shape(self.passes) == np.shape(self.holds) and np.size(self.passes) > 0
        if not is_shaped or not all(((one >= 0) & (one <= 1)).all() for one in (self.passes, self.holds)):
            raise InputError("The draws of the coming cleans are no shares of one shape.", "Give two tables of draws × cleans.")


def coming_cleans(triage: Triage, holds: Holds, case: Mapping[str, object], *, most: int = MOST) -> ComingCleans | Because:
    """Return what the record says of the next clean of a stick and of those after it, or why it says nothing of the next.

    case: the columns of `triage`; attempt_number is that of the next clean, failed_tries by default 0. Its readings are
    taken to stay as found. It ends with the last number of cleans on record.
    Raises InputError without an attempt_number of at least 1.
    """
    first, failed = case.get("attempt_number"), case.get("failed_tries")
    if first is None or pd.isna(first) or first < 1 or first != int(first):
        raise InputError(f"{first} is not the number of a clean.", "Say how many cleans this module had, and add one.")
    later = np.arange(most)
    cases = pd.DataFrame([dict(case)] * most).assign(
        attempt_number=first + later, failed_tries=(0 if failed is None else failed) + later
    )
    (next_one,) = triage.chance(cases.head(1))
    held = [holds.draws(case.get("family"), int(first + one)) for one in later]
    if next_one.because or held[0] is None:
        return next_one.because or Because.NO_FOLLOW_UP
    is_like = triage.is_like_anything(cases)
    known = most if is_like.all() else int(np.argmin(is_like))
    return ComingCleans(int(first), triage.draws(cases.head(known)), np.column_stack(held[:known]))
