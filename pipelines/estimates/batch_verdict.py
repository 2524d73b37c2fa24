"""All batches together: which stand out at equal age when many are looked at, and a bad one must not make others look good."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.equal_age import BatchRatio, Matched, batch_ratios, has_others, luck, matched
from pipelines.estimates.many_tests import false_discovery

#: A batch found worse no longer counts among the others; then it is looked again, so many times at most.
ROUNDS = 3


@dataclass(frozen=True)
class Compared:
    """ratios, p_adjusted (None: no ratio): by batch; is_reference: whether it counts among those that others are held against.

    false_alarm: the one-sided p-value at which one batch more would be named, beside those that are.
    """

    ratios: list[BatchRatio]
    p_adjusted: list[float | None]
    is_reference: np.ndarray
    false_alarm: float


def compare_batches(
    cells: Cells, alike: np.ndarray, *, is_candidate: np.ndarray, false_discovery_share: float, level: float = 0.95,
    noticed: float = 2.0, is_fixed: bool = False,
) -> Compared:  # fmt: skip
    """Hold every batch against the others, tests adjusted after Benjamini & Hochberg.

    is_candidate: which batches may be among the others. Those found worse are taken out from among them, and the rest judged
    anew, so that a bad batch does not make the good ones look better; is_fixed: the candidates are a chosen reference, and stay.
    alike, noticed: as in `batch_ratios`. Raises InputError.
    """
    reference = is_candidate if is_fixed else _good(cells.fewer_steps(), alike, is_candidate, false_discovery_share, level)
    found = matched(cells, reference)
    if (has_others(cells, is_candidate) & ~found.is_beside).any():
        found = _beside(found, matched(cells, is_candidate))
    ratios = batch_ratios(found, alike, level=level, noticed=noticed)
    p_value = np.array([np.nan if one.p_value is None else one.p_value for one in ratios])
    adjusted = _adjusted(p_value)
    named = (adjusted <= false_discovery_share) & (p_value <= 1 - level)
    one_more = min((int(named.sum()) + 1) / max(int((~np.isnan(p_value)).sum()), 1), 1.0)
    false_alarm = min(false_discovery_share * one_more, 1 - level) / 2
    return Compared(ratios, [None if np.isnan(one) else float(one) for one in adjusted], reference, false_alarm)


def _good(
    cells: Cells, alike: np.ndarray, is_candidate: np.ndarray, false_discovery_share: float, level: float
) -> np.ndarray:  # fmt: skip
    """Return which candidates are left when those found worse are taken out, round by round."""
    reference, widest = is_candidate, matched(cells, is_candidate)
    found = widest
    for _ in range(ROUNDS):
        signed = luck(found, alike)
        is_luck = ~(_adjusted(abs(signed)) <= false_discovery_share) | ~(abs(signed) <= 1 - level)
        left = is_candidate & (is_luck | np.signbit(signed))
        if not left.any() or (left == reference).all():
            break
        reference = reference & left
        found = _beside(matched(cells, reference), widest)
    return reference


def _beside(found: Matched, wider: Matched) -> Matched:
    """Return what was found, and of batches with nothing beside them in it what was found in a wider reference."""
    is_lost = wider.is_beside & ~found.is_beside
    if not is_lost.any():
        return found
    kept, other = ~is_lost[found.batch], is_lost[wider.batch]
    rows = (
        np.concatenate([getattr(found, name)[kept], getattr(wider, name)[other]])
        for name in ("batch", "odds", "failures", "others")
    )
    whole = (np.where(is_lost, getattr(wider, name), getattr(found, name)) for name in ("observed", "expected"))
    return Matched(*rows, *whole, found.of_failures, wider.is_beside)


def _adjusted(p_value: np.ndarray) -> np.ndarray:
    """Return the p-values adjusted for all that there are; nan where there is none."""
    found = np.full(len(p_value), np.nan)
    is_told = ~np.isnan(p_value)
    found[is_told] = false_discovery(p_value[is_told])
    return found
