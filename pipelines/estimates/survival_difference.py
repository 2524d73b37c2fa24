"""The curve of a batch beside that of the rest made alike, and their difference at each age: limits for each age, a band for all.

Limits allow for controllers whose sticks share their fate: the influence of each spell is summed by controller.
Sources: Wilson's limits at the effective number as in `clustered`, joined for the difference as Newcombe (1998), Statistics in
Medicine 17:873–890; the band: the law of the largest departure drawn from the covariance of the influences, as Parzen, Wei &
Ying (1997), Scandinavian Journal of Statistics 24:309–314 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.alike import Alike
from pipelines.estimates.clustered import LEAST_CLUSTERS
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile, score_limits
from pipelines.vocabulary import Because

#: Points of a curve that a figure can show apart; ages over which the band is drawn, and draws, from a fixed seed.
MOST_POINTS, BAND_POINTS, DRAWS, SEED = 200, 80, 4000, 6
#: The band begins where so many of the batch have failed, or should have: of one failure it would make too much.
BAND_FROM = 3

COLUMNS = [
    "at", "batch", "batch_low", "batch_high", "rest", "rest_low", "rest_high", "difference", "low", "high", "band_low",
    "band_high", "batch_at_risk", "rest_at_risk",
]  # fmt: skip


@dataclass(frozen=True)
class SurvivalDifference:
    """points: COLUMNS, a row at up to MOST_POINTS ages of failures: shares still free of failure, given those at
    `counted_from`; difference: batch less rest, with limits for that age alone and the band that holds at all ages together.

    differs_from, differs_to: the first age of those at which the band leaves 0 out, and the last; None where it never does.
    because: why there is none, then points is empty.
    """

    points: pd.DataFrame
    counted_from: float
    compared_to: float | None
    differs_from: float | None
    differs_to: float | None
    because: Because | None = None


@dataclass(frozen=True)
class _Side:
    """Share still free of failure after each age, its variance over its square for independent spells, and at risk."""

    share: np.ndarray
    plain: np.ndarray
    at_risk: np.ndarray


def survival_difference(pair: Alike, *, level: float = 0.95) -> SurvivalDifference:
    """Compare the shares still free of failure. Refused as `alike`, and as `too_few_clusters` under three controllers."""
    z = normal_quantile(level)
    batch_clusters = len(np.unique(pair.rows.cluster[pair.rows.is_batch]))
    because = pair.because or (Because.TOO_FEW_CLUSTERS if batch_clusters < LEAST_CLUSTERS else None)
    if because is not None:
        return SurvivalDifference(pd.DataFrame(columns=COLUMNS), pair.counted_from, None, None, None, because)
    from scipy.stats import t

    widen = float(t.ppf((1 + level) / 2, batch_clusters - 1)) / z
    places = np.unique(np.linspace(0, len(pair.age) - 1, min(len(pair.age), MOST_POINTS)).round().astype(int))
    batch, rest, by_batch, by_rest = _sides(pair, places)
    clusters = len(by_batch)
    by_batch, by_rest = (one * np.sqrt(clusters / (clusters - 1)) for one in (by_batch, by_rest))
    top = _largest_departure(by_batch - by_rest, level=level)
    limits = {}
    for name, quantile in (("", z), ("band_", top)):
        ends = [
            _limits(side, influence, robust=quantile * widen, plain=quantile)
            for side, influence in ((batch, by_batch), (rest, by_rest))
        ]
        limits[name] = ends
    gap = batch.share - rest.share
    columns = {"at": pair.age[places], "batch": batch.share, "rest": rest.share, "difference": gap}
    columns |= {"batch_at_risk": batch.at_risk.astype(int), "rest_at_risk": rest.at_risk.astype(int)}
    for name, side in (("batch", 0), ("rest", 1)):
        columns[f"{name}_low"], columns[f"{name}_high"] = limits[""][side]
    for name, ((batch_low, batch_high), (rest_low, rest_high)) in limits.items():
        columns[f"{name}low"] = gap - np.hypot(batch.share - batch_low, rest_high - rest.share)
        columns[f"{name}high"] = gap + np.hypot(batch_high - batch.share, rest.share - rest_low)
    expected = (pair.rest_weight * pair.rest_failed).sum(axis=0)
    is_enough = np.maximum(*(np.cumsum(one)[places] for one in (pair.batch_failed.sum(axis=0), expected))) >= BAND_FROM
    for name in ("band_low", "band_high"):
        columns[name] = np.where(is_enough, columns[name], np.nan)
    points = pd.DataFrame(columns)[COLUMNS]
    shown = points["at"].to_numpy()[((points["band_low"] > 0) | (points["band_high"] < 0)).to_numpy()]
    first, last = (float(shown[0]), float(shown[-1])) if len(shown) else (None, None)
    return SurvivalDifference(points, pair.counted_from, float(pair.age[-1]), first, last)


def share_failed(found: SurvivalDifference, *, by_age: float) -> tuple[Estimate, Estimate, Estimate] | None:
    """Return the share of the batch and of the rest that failed by an age, and batch less rest; None past the last age."""
    at = found.points["at"].to_numpy()
    if not len(at) or by_age > at[-1] or by_age < at[0]:
        return None
    row = found.points.iloc[int(np.searchsorted(at, by_age, side="right")) - 1]
    batch, rest = (
        Estimate(*(float(1 - row[name]) for name in (side, f"{side}_high", f"{side}_low"))) for side in ("batch", "rest")
    )
    return batch, rest, Estimate(*(float(-row[name]) for name in ("difference", "high", "low")))


def early_age(found: SurvivalDifference, *, share: float) -> float | None:
    """Return the age by which this share of the rest had failed, of those at `counted_from`; None where it never has."""
    is_there = (found.points["rest"] <= 1 - share + 1e-9).to_numpy(dtype=bool)
    return float(found.points["at"].to_numpy()[np.argmax(is_there)]) if is_there.any() else None


def _sides(pair: Alike, places: np.ndarray) -> tuple[_Side, _Side, np.ndarray, np.ndarray]:
    """Return both sides at the places, and the influence of each cluster on either share: (clusters, places)."""
    batch_risk, weight = pair.batch.sum(axis=0), pair.rest_weight
    someone = np.maximum(batch_risk, 1)
    chance = pair.batch_failed.sum(axis=0) / someone
    of_cell = np.divide(pair.rest_failed, pair.rest, out=np.zeros(pair.rest.shape), where=pair.rest > 0)
    weight = weight / someone
    expected = (weight * pair.rest_failed).sum(axis=0)
    is_compared = pair.batch > 0
    left = [np.where(one < 1, 1 - one, 1.0) for one in (chance, expected)]
    batch = _Side(
        np.cumprod(1 - chance)[places], np.cumsum(chance / (someone * left[0]))[places], batch_risk[places]
    )  # fmt: skip
    rest = _Side(
        np.cumprod(1 - expected)[places],
        np.cumsum((weight**2 * pair.rest_failed * (1 - of_cell)).sum(axis=0) / left[1] ** 2)[places],
        pair.rest.sum(axis=0)[places],
    )
    none = np.zeros(pair.rest.shape)
    gain_batch, gain_rest = is_compared / (someone * left[0]), weight / left[1]
    by_batch = pair.influence(places, taken=(gain_batch * chance, none), gained=(gain_batch, none))
    by_rest = pair.influence(places, taken=(none, gain_rest * of_cell), gained=(none, gain_rest))
    return batch, rest, -batch.share * by_batch, -rest.share * by_rest


def _limits(side: _Side, influence: np.ndarray, *, robust: float, plain: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the outer of Wilson's limits by cluster (quantile `robust`) and for independent spells (`plain`)."""
    share, by_cluster = side.share, (influence**2).sum(axis=0)
    inner = share * (1 - share)
    low, high = share.copy(), share.copy()
    for variance, quantile in ((by_cluster, robust), (share**2 * side.plain, plain)):
        is_known = (inner > 0) & (variance > 0)
        size = np.maximum(np.where(is_known, inner / np.where(is_known, variance, 1.0), side.at_risk), 1.0)
        ends = np.array([score_limits(*one, quantile) for one in zip(share.tolist(), size.tolist(), strict=True)]).T
        low, high = np.minimum(low, ends[0]), np.maximum(high, ends[1])
    return low, high


def _largest_departure(influence: np.ndarray, *, level: float) -> float:
    """Return the quantile of the largest departure over the ages, in standard deviations."""
    places = np.linspace(0, influence.shape[1] - 1, min(influence.shape[1], BAND_POINTS)).round().astype(int)
    influence = influence[:, places]
    covariance = influence.T @ influence
    spread = np.sqrt(np.diag(covariance))
    is_known = spread > 1e-9 * spread.max(initial=0.0)
    if not is_known.any():
        return normal_quantile(level)
    correlation = covariance[np.ix_(is_known, is_known)] / np.outer(spread[is_known], spread[is_known])
    sizes, directions = np.linalg.eigh(correlation)
    root = directions * np.sqrt(np.maximum(sizes, 0.0))
    drawn = np.random.default_rng(SEED).standard_normal((DRAWS, len(sizes))) @ root.T
    return float(np.quantile(np.abs(drawn).max(axis=1), level))
