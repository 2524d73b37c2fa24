"""Weibull lives with the shape assumed, not fitted: what few failures, or none, still say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, log1p

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import require
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lives import LifeSpells, checked
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.weibull import B10, MEDIAN, SCALE
from pipelines.vocabulary import Because

#: How far the shapes shown beside the assumed one lie from it, and the least of them.
ASIDE, LEAST_ASIDE = 0.5, 0.5
#: Shapes outside are no life of a part, and would run out of digits.
LEAST_SHAPE, LARGEST_SHAPE = 0.1, 20.0


@dataclass(frozen=True)
class AssumedLife:
    """What one assumed shape gives: scale, b10 and median in the clock's unit."""

    shape: float
    scale: Estimate
    b10: Estimate
    median: Estimate


@dataclass(frozen=True)
class FixedShapeFit:
    """One group's lives if the shape is as assumed. S(t) = exp(−(t / scale)^shape).

    by, spells, failures: as in `WeibullFit`; between: the failures found between two visits, taken at the middle.
    is_one_sided: nothing failed, so there are lower limits only, each right with the whole level; `because` is then
    `no_failures`, also in the estimates. life: for the assumed shape; others: for shapes 0.5 lower and higher (not under
    0.5), to show what the assumption is worth.
    """

    by: tuple
    spells: int
    failures: int
    between: int
    because: Because | None
    is_one_sided: bool
    life: AssumedLife
    others: tuple[AssumedLife, ...]


def fixed_shape(
    spells: pd.DataFrame, *, by: Sequence[str], shape: float, level: float = 0.95, entries: pd.DataFrame | None = None
) -> list[FixedShapeFit]:
    """Return scale, B10 and median of each group for a shape that is assumed.

    spells, entries: as in `weibull`. A failure found between two visits counts as if at the middle of them.
    With the shape known, time to the power of the shape runs at a constant failure rate; the two-sided limits are those
    of a Poisson count (chi-square with 2r and 2r + 2 degrees of freedom, r failures), so they cover at least the level.
    Without failures the one limit is the rate −ln(1 − level) / Σ time^shape.
    Returns one record per group, in sorted order.
    Raises InputError on a shape outside 0.1 to 20, and as `weibull`.
    Source: Nelson (1985), Journal of Quality Technology 17:140–146; Meeker & Escobar (1998), section 8.7 (both from memory).
    """
    normal_quantile(level)
    if not LEAST_SHAPE <= shape <= LARGEST_SHAPE:
        raise InputError(f"A shape of {shape} is not one of a life.", "Assume a shape between 0.1 and 20, such as 2.")
    lives = checked(spells, by=by, entries=entries)
    if not lives.groups.count:
        return []
    shapes = [shape, *sorted({max(shape - ASIDE, LEAST_ASIDE), shape + ASIDE} - {shape})]
    failures = lives.failures
    limits = _rate_limits(failures, level=level)
    found = [_described(one, _log_exposure(lives, one), failures, limits) for one in shapes]
    between = lives.per_group(lives.count * ((lives.lower < lives.upper) & (lives.upper < np.inf)))
    size = zip(
        lives.groups.tuples(), lives.per_group(lives.count).tolist(), failures.tolist(), between.tolist(), strict=True
    )  # fmt: skip
    return [
        FixedShapeFit(*one, None if one[2] else Because.NO_FAILURES, not one[2], life, tuple(others))
        for one, life, *others in zip(size, *found, strict=True)
    ]


def _log_exposure(spells: LifeSpells, shape: float) -> np.ndarray:
    """Return the log of Σ time^shape at risk by group, in clock units."""
    is_between = (spells.lower < spells.upper) & (spells.upper < np.inf)
    end = np.where(is_between, (spells.lower + np.where(is_between, spells.upper, 0.0)) / 2, spells.lower)
    code, entry_code = spells.groups.codes
    size = spells.groups.count
    longest = np.zeros(size)
    np.maximum.at(longest, np.concatenate([code, entry_code]), np.concatenate([end, spells.entry]))
    ran = np.bincount(code, weights=spells.count * (end / longest[code]) ** shape, minlength=size)
    before = spells.entry_count * (spells.entry / longest[entry_code]) ** shape
    at_risk = ran - np.bincount(entry_code, weights=before, minlength=size)
    require(at_risk > 0, "More spells end than ever entered", "Count late entries over the same spells.")
    return np.log(at_risk) + shape * np.log(longest)


def _rate_limits(failures: np.ndarray, *, level: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the limits of the expected number of failures; the upper one is one-sided where there were none."""
    from scipy.special import gammaincinv

    tail = (1 - level) / 2
    low = np.where(failures > 0, gammaincinv(np.maximum(failures, 1), tail), 0.0)
    high = np.where(failures > 0, gammaincinv(failures + 1.0, 1 - tail), -log1p(-level))
    return low, high


def _described(
    shape: float, log_exposure: np.ndarray, failures: np.ndarray, limits: tuple[np.ndarray, np.ndarray]
) -> list[AssumedLife]:
    """Return the life of each group; a rate of r per Σ time^shape is a scale of (Σ time^shape / r)^(1/shape)."""
    lives = []
    for exposure, count, low, high in zip(
        log_exposure.tolist(), failures.tolist(), *(one.tolist() for one in limits), strict=True
    ):
        # The shortest life goes with the highest rate.
        logs = [(exposure - log(rate)) / shape if rate > 0 else None for rate in (count, high, low)]
        numbers = []
        for height in (SCALE, B10, MEDIAN):
            estimate, shortest, longest = (None if one is None else exp(one + height / shape) for one in logs)
            numbers.append(Estimate(estimate, shortest, longest, None if count else Because.NO_FAILURES))
        lives.append(AssumedLife(shape, *numbers))
    return lives
