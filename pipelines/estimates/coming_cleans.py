"""The coming cleans of one stick, if those before them fail: draws of the chances that each passes, and that it then holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.hold_after_pass import Holds
from pipelines.estimates.triage import DRAWS, Triage
from pipelines.vocabulary import Because

#: Nobody plans further ahead.
MOST = 5
#: About so many rows are drawn at once: more no longer fit where the processor has them at hand.
_AT_ONCE = 200


@dataclass(frozen=True)
class ComingCleans:
    """first_number: how-many-th clean of its module the next one is; passes, holds: draws of the chances, (draws, cleans).

    is_hold_known: false where no clean that passed was followed long enough: holds are then 1, the best that may be.
    Raises InputError unless these are shares (0–1) of one shape.
    """

    first_number: int
    passes: np.ndarray
    holds: np.ndarray
    is_hold_known: bool = True

    def __post_init__(self) -> None:
        is_shaped = np.ndim(self.passes) == 2 and np.shape(self.passes) == np.shape(self.holds) and np.size(self.passes) > 0
        if not is_shaped or not all(((one >= 0) & (one <= 1)).all() for one in (self.passes, self.holds)):
            raise InputError("The draws of the coming cleans are no shares of one shape.", "Give two tables of draws × cleans.")


#: A stick of which not everything is known: the cases that it may be, with their shares, which come to 1.
Mixed = Sequence[tuple[float, Mapping[str, object]]]


def coming_cleans(triage: Triage, holds: Holds, case: Mapping[str, object], *, most: int = MOST) -> ComingCleans | Because:
    """Return what the record says of the next clean of a stick and of those after it, or why it says nothing of the next.

    case: the columns of `triage`; attempt_number is that of the next clean, failed_tries by default 0. Its readings are
    taken to stay as found. It ends with the last number of cleans on record.
    Raises InputError without an attempt_number of at least 1.
    """
    return coming_cleans_of(triage, holds, [[(1.0, case)]], most=most)[0]


def coming_cleans_of(triage: Triage, holds: Holds, sticks: Sequence[Mixed], *, most: int = MOST) -> list[ComingCleans | Because]:
    """Return the same of several sticks at once. The chances of a mixed stick are the means over its cases, draw by draw;
    its family and numbers are those of its first case. It is unlike any where one of its cases is.
    """
    numbers = [_numbers(stick[0][1]) for stick in sticks]
    if not sticks:
        return []
    rows = [
        {**case, "attempt_number": first + later, "failed_tries": failed + later}
        for stick, (first, failed) in zip(sticks, numbers, strict=True)
        for _, case in stick
        for later in range(most)
    ]
    cases = pd.DataFrame(rows)
    refused = triage.chance(cases.head(1))[0].because if triage.because else None
    is_like = triage.is_like_anything(cases)
    found: list[ComingCleans | Because] = []
    drawn = None if refused else _Drawn(triage, cases, is_like, most)
    for stick, (first, _), (start, end) in zip(sticks, numbers, _ends(sticks, most), strict=True):
        like = is_like[start:end].reshape(len(stick), most).all(axis=0)
        held = [holds.draws(stick[0][1].get("family"), first + later) for later in range(most)]
        if refused or not like[0]:
            found.append(refused or Because.UNLIKE_ANY)
        else:
            known = most if like.all() else int(np.argmin(like))
            share = np.array([one for one, _ in stick])
            passes = np.tensordot(drawn.of(start, end).reshape(-1, len(stick), most), share, axes=(1, 0))[:, :known]
            is_hold_known = held[0] is not None
            kept = np.column_stack(held[:known]) if is_hold_known else np.ones((DRAWS, known))
            found.append(ComingCleans(first, np.clip(passes, 0, 1), kept, is_hold_known))
    return found


class _Drawn:
    """Draws of the rows of a table, some hundred rows at a time; those unlike any stand at 0."""

    def __init__(self, triage: Triage, cases: pd.DataFrame, is_like: np.ndarray, most: int) -> None:
        self._triage, self._cases, self._is_like = triage, cases, is_like
        self._step = max(_AT_ONCE // most, 1) * most
        self._start, self._block = 0, None

    def of(self, start: int, end: int) -> np.ndarray:
        if self._block is None or end > self._start + self._block.shape[1]:
            self._start, self._block = start, self._draw(start, max(end, start + self._step))
        return self._block[:, start - self._start : end - self._start]

    def _draw(self, start: int, end: int) -> np.ndarray:
        some, like = self._cases.iloc[start:end], self._is_like[start:end]
        if like.all():
            return self._triage.draws(some)
        block = np.zeros((DRAWS, len(some)))
        if like.any():
            block[:, like] = self._triage.draws(some[like])
        return block


def _ends(sticks: Sequence[Mixed], most: int) -> list[tuple[int, int]]:
    """Return where the rows of each stick begin and end."""
    return list(pairwise(accumulate((len(stick) * most for stick in sticks), initial=0)))


def _numbers(case: Mapping[str, object]) -> tuple[int, int]:
    """Return how-many-th clean comes next, and how many before it failed since one passed. Raises InputError."""
    first, failed = case.get("attempt_number"), case.get("failed_tries")
    if first is None or pd.isna(first) or first < 1 or first != int(first):
        raise InputError(f"{first} is not the number of a clean.", "Say how many cleans this module had, and add one.")
    return int(first), 0 if failed is None else int(failed)
