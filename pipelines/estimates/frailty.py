"""Weibull lives of things that share a fate: each cluster's hazard is multiplied by a gamma factor of mean 1.

Ignoring it makes hazards of survivors look milder with age, so the shape comes out too low (at a variance of 0.3 a shape of
2 becomes 1.7 to 1.8). The factor is integrated out in closed form; with late entry the likelihood is given that all spells of
the cluster were well at their entries.
Sources: Clayton (1978); Duchateau & Janssen (2008), The Frailty Model, chapter 2; late entry: Jensen et al. (2004), Biometrics
60:1013 (all from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.climb import climb
from pipelines.estimates.counts import group, require, require_columns, times, whole_counts
from pipelines.estimates.cox_robust import Partial
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.frailty_likelihood import SCALE, SHAPE, VARIANCE
from pipelines.estimates.frailty_likelihood import Lives as _Lives
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.weibull import WeibullFit, weibull
from pipelines.vocabulary import Because

#: So many clusters must have two spells or more, or nothing is shared.
LEAST_CLUSTERS = 3
#: A limit further than this factor from its estimate, or a variance beyond 1,000, counts as not reached.
FURTHEST, LARGEST_VARIANCE = np.log(1e6), 1e3
#: Variances over this are climbed to from where the search is; limits of variances are looked for on log(variance + SPREAD).
SMALL_VARIANCE, SPREAD = 1e-6, 0.05
#: A likelihood that rises by less from a variance of 0 on has its top there, but for rounding, and no climb finds another.
LEAST_RISE = 1e-7
#: A limit is found when the root of twice the drop is this near its quantile.
ROOT_TOLERANCE, LIMIT_STEPS = 1e-6, 60


@dataclass(frozen=True)
class FrailtyFit:
    """One group's fit. Given its factor z a spell is well past t with probability exp(−z·(t / scale)^shape).

    scale in the clock's unit; variance: of the factors, 0 where all clusters are alike. All with likelihood-ratio limits.
    shape_ignoring: the shape of `weibull`, which takes the spells for independent. log_likelihood, log_likelihood_ignoring:
    of densities in the clock's unit. because: why there is no fit, else None.
    """

    by: tuple
    spells: int
    failures: int
    cluster_count: int
    because: Because | None
    shape: Estimate
    scale: Estimate
    variance: Estimate
    shape_ignoring: Estimate
    log_likelihood: float | None
    log_likelihood_ignoring: float | None


def frailty(spells: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_failures: int = 6) -> list[FrailtyFit]:
    """Fit a Weibull distribution with a shared gamma factor to each group of counted spells.

    spells: counts per `by`, `cluster`, `entry`, `at` (0 <= entry < at, in the clock's unit), `is_failure`, `spell_count`.
    Refused as `weibull` is, and with `too_few_clusters` where under three clusters have two spells or more. The low limit of
    the variance is 0 where the ratio does not reject it.
    Raises InputError.
    """
    z = normal_quantile(level)
    require_columns(spells, ["cluster", "entry", "at", "is_failure", "spell_count"])
    count = whole_counts(spells, "spell_count")
    spells, count = spells[count > 0], count[count > 0]
    entry, at = times(spells, "entry"), times(spells, "at")
    require(np.isfinite(at) & (entry < at), "A spell ends nowhere, or has no length", "Leave such spells out.")
    is_failure = spells["is_failure"].to_numpy(dtype=bool)
    plain = weibull(
        spells.assign(lower=at, upper=np.where(is_failure, at, np.inf)), by=by, level=level, min_failures=min_failures
    )
    code, clusters = group([spells], by=by).codes[0], group([spells], by=["cluster"]).codes[0]
    order = np.argsort(code, kind="stable")
    bounds = np.searchsorted(code[order], np.arange(len(plain) + 1))
    found = []
    for number, fit in enumerate(plain):
        mine = order[bounds[number] : bounds[number + 1]]
        _, cluster = np.unique(clusters[mine], return_inverse=True)
        found.append(_fit(fit, entry[mine], at[mine], is_failure[mine], count[mine], cluster, z=z))
    return found


def _fit(plain: WeibullFit, entry, at, is_failure, count, cluster, *, z: float) -> FrailtyFit:
    shared = int((np.bincount(cluster, weights=count) > 1).sum())
    size = (plain.by, plain.spells, plain.failures, int(cluster.max()) + 1)
    because = plain.because or (Because.TOO_FEW_CLUSTERS if shared < LEAST_CLUSTERS else None)
    if because is None:
        lives = _Lives(entry / at.max(), at / at.max(), is_failure, count, cluster)
        start = np.array([np.log(plain.scale.estimate / at.max()), np.log(plain.shape.estimate), 0.0])
        top = _top(lives, start, ())
        because = Because.FIT_FAILED if top is None else None
    if because is not None:
        return FrailtyFit(*size, because, *[Estimate.refused(because)] * 3, plain.shape, None, plain.log_likelihood)
    theta, value = top
    alone = lives.likelihood(start)[0]
    logs = [[_limit(lives, top, one, side, z) for side in (-1, 1)] for one in (SHAPE, SCALE)]
    is_clear = 2 * (value - alone) > z * z
    low = _limit(lives, top, VARIANCE, -1, z) if is_clear else 0.0
    shape = Estimate.within(float(np.exp(theta[SHAPE])), *(None if one is None else float(np.exp(one)) for one in logs[0]))
    scale = Estimate.within(
        float(np.exp(theta[SCALE]) * at.max()), *(None if one is None else float(np.exp(one) * at.max()) for one in logs[1])
    )
    variance = Estimate.within(float(theta[VARIANCE]), low, _limit(lives, top, VARIANCE, 1, z))
    return FrailtyFit(
        *size, None, shape, scale, variance, plain.shape, plain.log_likelihood + value - alone, plain.log_likelihood
    )


def _top(lives: _Lives, start: np.ndarray, fixed: Sequence[int]) -> tuple[np.ndarray, float] | None:
    """Return the best parameters with those of `fixed` held, and the likelihood there.

    From a variance over 0 at once; else, or where that leads nowhere, first at variance 0, and only where the likelihood
    rises from there on by LEAST_RISE is the variance let go, on its log.
    """
    free = [one for one in (SCALE, SHAPE) if one not in fixed]
    if VARIANCE in fixed:
        return _climbed(lives, start, free, is_variance_free=False)
    if start[VARIANCE] > SMALL_VARIANCE:
        best = _climbed(lives, start, free, is_variance_free=True)
        if best is not None and best[0][VARIANCE] > SMALL_VARIANCE:
            return best
    alone = _climbed(lives, np.append(start[:2], 0.0), free, is_variance_free=False)
    if alone is not None:
        _, slopes, bends = lives.partial(alone[0])
        if slopes[VARIANCE] <= np.sqrt(2 * LEAST_RISE * max(bends[VARIANCE, VARIANCE], 0.0)):
            return alone
    for variance in (0.05, 0.5, 2.0):
        best = _climbed(lives, np.append(start[:2], variance), free, is_variance_free=True)
        if best is not None:
            return best
    return None


def _climbed(lives: _Lives, start: np.ndarray, free: list[int], *, is_variance_free: bool) -> tuple[np.ndarray, float] | None:
    moving = [*free, VARIANCE] if is_variance_free else free

    def placed(at: np.ndarray) -> np.ndarray:
        theta = start.copy()
        theta[moving] = at
        if is_variance_free:
            theta[VARIANCE] = np.exp(np.minimum(at[-1], 20.0))
        return theta

    def scored(at: np.ndarray) -> Partial:
        theta = placed(at)
        value, slopes, bends = lives.partial(theta)
        if is_variance_free:
            # On the log of the variance.
            slopes[VARIANCE] *= theta[VARIANCE]
            bends[VARIANCE] *= theta[VARIANCE]
            bends[:, VARIANCE] *= theta[VARIANCE]
            bends[VARIANCE, VARIANCE] -= slopes[VARIANCE]
        return Partial(value, slopes[moving], bends[np.ix_(moving, moving)])

    first = start[moving].copy()
    if is_variance_free:
        first[-1] = np.log(start[VARIANCE])
    best = climb(scored, first)
    return None if best is None else (placed(best[0]), best[1].value)


def _limit(lives: _Lives, top: tuple[np.ndarray, float], which: int, side: int, z: float) -> float | None:
    """Return where the profile of one parameter has dropped by z²/2 on one side; None where it does not.

    The root of twice the drop is nearly straight, so Newton's steps in it, kept between the distances known to be too
    short and too long, need few profiles, each climbed from the one before.
    """
    theta, value = top
    last, short, long = theta, 0.0, np.inf
    distance = _guess(lives, theta, which, z)
    for _ in range(LIMIT_STEPS):
        at = last.copy()
        at[which] = _moved(theta[which], side * distance, which)
        best = _top(lives, at, (which,))
        if best is None:
            return None
        last = best[0]
        root = np.sqrt(max(2 * (value - best[1]), 0.0))
        short, long = (distance, long) if root < z else (short, distance)
        if abs(root - z) < ROOT_TOLERANCE:
            return float(last[which])
        slope = lives.likelihood(last)[1][which] * (1.0 if which != VARIANCE else last[VARIANCE] + SPREAD)
        pace = -side * slope / root if root > 0 else 0.0
        ahead = distance + (z - root) / pace if pace > 0 else np.inf
        bound = min(long, 3 * distance)
        distance = ahead if short < ahead < bound else (short + long) / 2 if long < np.inf else bound
        is_beyond = which == VARIANCE and _moved(theta[which], side * short, which) > LARGEST_VARIANCE
        if short > FURTHEST or is_beyond or long - short < 1e-12:
            break
    return None


def _guess(lives: _Lives, theta: np.ndarray, which: int, z: float) -> float:
    """Return the distance at which the limit would lie if the likelihood were as bent everywhere as at the top."""
    moving = [SCALE, SHAPE, VARIANCE] if theta[VARIANCE] > 0 else sorted({SCALE, SHAPE, which})
    information = lives.partial(theta).information[np.ix_(moving, moving)]
    sizes, directions = np.linalg.eigh(information)
    error = np.sqrt((directions[moving.index(which)] ** 2 / np.maximum(abs(sizes), 1e-10)).sum())
    return float(np.clip(z * error / (1.0 if which != VARIANCE else theta[VARIANCE] + SPREAD), 0.01, 1.0))


def _moved(at: float, distance: float, which: int) -> float:
    """Return a log moved by a distance; a variance is moved by it on a scale that reaches 0."""
    return at + distance if which != VARIANCE else max(0.0, (at + SPREAD) * np.exp(distance) - SPREAD)
