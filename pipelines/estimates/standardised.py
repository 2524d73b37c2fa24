"""Cleaning success if all had been cleaned: the share passed of those tried, weighted by the severity of all failures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from numbers import Real

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require, require_columns, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import Share, normal_quantile, share, wilson
from pipelines.vocabulary import Because

#: More of the mix than this in bands without an attempt is too much to borrow.
LARGEST_BORROWED = 0.2

BAND_COLUMNS = ["band", "mix_share", "failures", "tried", "passed", "share", "low", "high"]


@dataclass(frozen=True)
class StandardisedShare:
    """One group's success over the bands.

    by: the group's values in the order asked for; failures, tried: all, and those cleaned; tried_share: of the failures.
    plain: passed of tried, as it stands. standardised: had all been cleaned, with the mix of the standard.
    lowest: the same had every failure that was not tried failed its clean.
    borrowed_share: of the mix, in bands in which this group tried none, so that the nearest tried band stands in.
    bands: a row for each band of the standard: `band`, `mix_share`, `failures`, `tried`, `passed`, and the `share` passed
    of tried with Wilson's limits (NaN where none was tried).
    `because`: why there is no standardised share, also in its estimates.
    """

    by: tuple
    failures: int
    tried: int
    tried_share: float | None
    plain: Share
    standardised: Estimate
    lowest: Estimate
    borrowed_share: float | None
    bands: pd.DataFrame
    because: Because | None = None


def standardised(
    attempts: pd.DataFrame,
    *,
    by: Sequence[str],
    band: str,
    level: float = 0.95,
    ranked: Sequence | None = None,
    standard: pd.DataFrame | None = None,
    largest_borrowed: float = LARGEST_BORROWED,
) -> list[StandardisedShare]:
    """Standardise the share of cleans that passed to the mix of severities of all failures.

    attempts: counts per `by`, `band`, `is_tried`, `is_passed`, `failure_count`, of all failures, cleaned or not. A null
    band, severity not recorded, is a band of its own.
    ranked: the bands that have an order, from mild to severe; by default those that are numbers.
    standard: counts per `band`, `failure_count`, whose mix weighs the bands; by default all of `attempts`.
    A band in which a group tried none takes the share of the nearest in rank, or of both nearest by their attempts; a band
    without a rank that of all. Holds if within a band those tried were like those not tried.
    Returns one record per group, in sorted order, refused as `no_attempts`, or as `untried_bands` where more than
    `largest_borrowed` of the mix would be borrowed.
    Raises InputError.   Source: direct standardisation (Breslow & Day 1987, from memory); limits: Wilson's by band,
    recovered for the sum as in Zou & Donner (2008, from memory). The mix counts as known.
    """
    normal_quantile(level)
    require_columns(attempts, [*by, band, "is_tried", "is_passed", "failure_count"])
    if standard is None:
        standard = attempts
    require_columns(standard, [band, "failure_count"])
    counts = whole_counts(attempts, "failure_count")
    is_tried = attempts["is_tried"].eq(True).to_numpy(dtype=bool)
    is_passed = attempts["is_passed"].eq(True).to_numpy(dtype=bool)
    require(is_tried | ~is_passed, "A clean that was not tried has passed", "Count passes among those tried.")
    if not len(attempts):
        return []
    groups = group([attempts], by=by)
    bands = group([attempts[[band]], standard[[band]]], by=[band])
    mix = np.bincount(bands.codes[1], weights=whole_counts(standard, "failure_count"), minlength=bands.count)
    require(np.array([mix.sum() > 0]), "The standard holds no failure", "Count the failures by band first.")
    cell = groups.codes[0] * bands.count + bands.codes[0]
    tables = [
        np.bincount(cell, weights=counts * one, minlength=groups.count * bands.count).reshape(groups.count, -1).astype(int)
        for one in (np.ones(len(counts)), is_tried, is_passed)
    ]
    labels = bands.keys[band].to_numpy()
    if ranked is None:
        ranked = [one for one in labels if isinstance(one, Real) and one == one]
    place = {one: float(number) for number, one in enumerate(ranked)}
    rank = np.array([place.get(one, np.nan) for one in labels])
    return [
        _standardised(values, labels, rank, mix / mix.sum(), *cells, level=level, largest_borrowed=largest_borrowed)
        for values, *cells in zip(groups.tuples(), *tables, strict=True)
    ]


def _standardised(
    values: tuple,
    labels: np.ndarray,
    rank: np.ndarray,
    mix: np.ndarray,
    failures: np.ndarray,
    tried: np.ndarray,
    passed: np.ndarray,
    *,
    level: float,
    largest_borrowed: float,
) -> StandardisedShare:
    is_used = mix > 0
    total, total_tried = int(failures.sum()), int(tried.sum())
    plain = share(int(passed.sum()), total_tried, level=level)
    shares = [wilson(k, n, level=level) for k, n in zip(passed[is_used], tried[is_used], strict=True)]
    limits = np.array([(one.estimate, one.low, one.high) for one in shares], dtype=float).T
    counted = (one[is_used] for one in (labels, mix, failures, tried, passed))
    bands = pd.DataFrame(dict(zip(BAND_COLUMNS, (*counted, *limits), strict=True)))
    tried_share = total_tried / total if total else None
    borrowed = float(mix[tried == 0].sum())
    size = (values, total, total_tried, tried_share, plain)
    if not total_tried or borrowed > largest_borrowed:
        because = Because.UNTRIED_BANDS if total_tried else Because.NO_ATTEMPTS
        return StandardisedShare(*size, *[Estimate.refused(because)] * 2, borrowed if total_tried else None, bands, because)
    found = _summed(_lent(mix, tried, rank), passed, tried, level=level)
    lowest = _summed(_lent(mix, failures, rank), passed, failures, level=level)
    return StandardisedShare(*size, found, lowest, borrowed, bands)


def _lent(mix: np.ndarray, n: np.ndarray, rank: np.ndarray) -> np.ndarray:
    """Return the weights of the bands with any n, once the others have lent theirs to the nearest in rank."""
    weight = np.where(n > 0, mix, 0.0)
    for empty in np.flatnonzero((mix > 0) & (n == 0)):
        distance = np.where((n > 0) & ~np.isnan(rank), abs(rank - rank[empty]), np.nan)
        near = np.flatnonzero(n > 0 if np.isnan(distance).all() else distance == np.nanmin(distance))
        weight[near] += mix[empty] * n[near] / n[near].sum()
    return weight


def _summed(weight: np.ndarray, k: np.ndarray, n: np.ndarray, *, level: float) -> Estimate:
    """Return the weighted share; its limits lie as far off as those of the bands together, in the root of squares."""
    used = np.flatnonzero(weight)
    shares = [wilson(int(k[one]), int(n[one]), level=level) for one in used]
    middle, low, high = (np.array([getattr(one, name) for one in shares]) for name in ("estimate", "low", "high"))
    weight = weight[used]
    whole = float((weight * middle).sum())
    down, up = (float(np.sqrt(((weight * (limit - middle)) ** 2).sum())) for limit in (low, high))
    return Estimate.within(whole, max(0.0, whole - down), min(1.0, whole + up))
