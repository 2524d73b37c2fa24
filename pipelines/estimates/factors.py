"""Categorical factors as columns of a regression: the reference level, rare levels pooled, what cannot be compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group

#: The name of the level that rare ones are pooled into; a factor's own level may bear it too, but pools nothing.
OTHER = "other"


@dataclass(frozen=True)
class Level:
    """One level of a factor. pooled: the levels it stands for, where several rare ones were put together under `other`.

    column: its column in the regression; None for the reference, and for a level without any failure.
    """

    factor: str
    level: object
    pooled: tuple
    spell_count: int
    failure_count: int
    is_reference: bool
    column: int | None


@dataclass(frozen=True)
class Design:
    """x: 0 or 1 by row and column; is_used: the rows that can say something; one_level: factors with nothing to compare."""

    x: np.ndarray
    is_used: np.ndarray
    levels: tuple[Level, ...]
    one_level: tuple[str, ...]

    def factors_of(self, columns: np.ndarray) -> tuple[str, ...]:
        """Return the factors of some columns, each once."""
        chosen = set(np.asarray(columns).tolist())
        return tuple(dict.fromkeys(level.factor for level in self.levels if level.column in chosen))


def design(
    spells: pd.DataFrame, count: np.ndarray, is_failure: np.ndarray, *, factors: Sequence[str], min_failures: int
) -> Design:
    """Turn the factors of counted spells into columns.

    The reference of a factor is the level with the most spells among those with at least `min_failures`; rarer levels are
    pooled. A level (or pool) without any failure gets no column and its rows are not used: its hazard is only known to be
    low, and leaving it out gives the others what they would have if it were 0. A factor with one level left is in
    `one_level`. A null is a level of its own. Raises InputError where a factor is missing.
    """
    levels: list[Level] = []
    one_level: list[str] = []
    columns: list[np.ndarray] = []
    is_used = np.ones(len(spells), dtype=bool)
    for factor in factors:
        code, found = _levels(spells, count, is_failure, factor, min_failures)
        compared = [one for one in found if one.failure_count]
        is_used &= np.array([one.failure_count > 0 for one in found], dtype=bool)[code] if len(found) else True
        if len(compared) < 2:
            one_level.append(factor)
            levels += found
            continue
        for number, level in enumerate(found):
            if level.failure_count and not level.is_reference:
                found[number] = replace(level, column=len(columns))
                columns.append(code == number)
        levels += found
    x = np.column_stack(columns).astype(float) if columns else np.zeros((len(spells), 0))
    return Design(x, is_used, tuple(levels), tuple(one_level))


def _levels(
    spells: pd.DataFrame, count: np.ndarray, is_failure: np.ndarray, factor: str, min_failures: int
) -> tuple[np.ndarray, list[Level]]:
    """Return the level of each row, and the levels of one factor: kept ones in sorted order, then the pooled rest."""
    groups = group([spells], by=[factor])
    code = groups.codes[0]
    names = [None if pd.isna(one[0]) else one[0] for one in groups.tuples()]
    spell_count = np.bincount(code, weights=count, minlength=len(names)).astype(np.int64)
    failure_count = np.bincount(code, weights=count * is_failure, minlength=len(names)).astype(np.int64)
    is_kept = failure_count >= max(min_failures, 1)
    kept, rare = np.flatnonzero(is_kept), np.flatnonzero(~is_kept)
    place = np.where(is_kept, np.cumsum(is_kept) - 1, len(kept))
    reference = kept[np.argmax(spell_count[kept])] if len(kept) else -1
    found = [
        Level(factor, names[one], (), int(spell_count[one]), int(failure_count[one]), bool(one == reference), None)
        for one in kept
    ]
    if len(rare):
        is_pool = len(rare) > 1
        size = (int(spell_count[rare].sum()), int(failure_count[rare].sum()))
        name = OTHER if is_pool else names[rare[0]]
        found.append(Level(factor, name, tuple(names[one] for one in rare) if is_pool else (), *size, not len(kept), None))
    return place[code] if len(code) else code, found
