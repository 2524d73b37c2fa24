"""Weibull fits whose limits hold where things share their fate: the sandwich by cluster beside the likelihood ratio."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.accelerated import LifeSpells, life_likelihood, life_residuals
from pipelines.estimates.clustered import LEAST_CLUSTERS
from pipelines.estimates.counts import group, require_columns
from pipelines.estimates.cox_robust import sandwich
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.weibull import WeibullFit, weibull
from pipelines.vocabulary import Because

#: −log of the share that survives B10 and the median.
HAZARD = {"b10": -np.log(0.9), "median": np.log(2.0)}


@dataclass(frozen=True)
class ClusteredWeibull:
    """One group's shape, B10 and median (in the clock's unit); estimates as in `WeibullFit`, limits by cluster.

    design_effect: the variance of log B10 by cluster over that of independent spells; None under three clusters or without
    a fit. likeness: the same over that of spells each on its own by the same sandwich, so that it is 1 where no cluster has two;
    covariance: of log scale and log shape, by cluster; None likewise.
    """

    by: tuple
    shape: Estimate
    b10: Estimate
    median: Estimate
    cluster_count: int
    design_effect: float | None
    because: Because | None
    likeness: float | None = None
    covariance: tuple[tuple[float, float], tuple[float, float]] | None = None


def clustered_weibull(
    spells: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_failures: int = 6,
    fits: Sequence[WeibullFit] | None = None,
) -> list[ClusteredWeibull]:  # fmt: skip
    """Fit a Weibull distribution to each group, with limits that allow for clusters.

    spells: counts per `by`, `cluster`, `entry`, `lower`, `upper`, `spell_count`, as in `weibull`, whose refusals hold too.
    fits: those of `weibull` for the same spells (or for coarser counts of them), at this level, where they are known already.
    Each limit is the outer one of the likelihood ratio's and the sandwich's, with Student's t of clusters − 1 degrees of
    freedom, on the log scale. Under three clusters estimates stand without limits (`too_few_clusters`).
    Raises InputError.   Source: White (1982); clusters as in Lin (1994), Statistics in Medicine 13:2233 (from memory).
    """
    require_columns(spells, ["cluster"])
    if fits is None:
        fits = weibull(spells, by=by, level=level, min_failures=min_failures)
    spells = spells[spells["spell_count"] > 0]
    code, clusters = group([spells], by=by).codes[0], group([spells], by=["cluster"]).codes[0]
    columns = [spells[name].to_numpy(dtype=float) for name in ("entry", "lower", "upper", "spell_count")]
    order = np.argsort(code, kind="stable")
    bounds = np.searchsorted(code[order], np.arange(len(fits) + 1))
    found = []
    for number, fit in enumerate(fits):
        mine = order[bounds[number] : bounds[number + 1]]
        rows = LifeSpells(*(column[mine] for column in columns), np.ones((len(mine), 1)))
        found.append(_clustered(fit, rows, np.unique(clusters[mine], return_inverse=True)[1], level=level))
    return found


def _clustered(fit: WeibullFit, rows: LifeSpells, cluster: np.ndarray, *, level: float) -> ClusteredWeibull:
    clusters = int(cluster.max()) + 1
    plain = (fit.shape, fit.b10, fit.median)
    if fit.because is not None:
        return ClusteredWeibull(fit.by, *plain, clusters, None, fit.because)
    if clusters < LEAST_CLUSTERS:
        bare = (Estimate(one.estimate, None, None, Because.TOO_FEW_CLUSTERS) for one in plain)
        return ClusteredWeibull(fit.by, *bare, clusters, None, None)
    from scipy.stats import t

    q = float(t.ppf((1 + level) / 2, clusters - 1))
    shape = fit.shape.estimate
    theta = np.array([np.log(fit.scale.estimate), np.log(shape)])
    information = life_likelihood(rows, theta).information
    residuals = life_residuals(rows, theta)
    robust = sandwich(information, residuals, rows.count, cluster) * clusters / (clusters - 1)
    # The slopes of log shape, log B10 and log median in (log scale, log shape).
    slopes = np.array([[0.0, 1.0], *([1.0, -np.log(hazard) / shape] for hazard in HAZARD.values())])
    inverse = np.linalg.inv(information)
    single = inverse @ (residuals.T * rows.count) @ residuals @ inverse
    by_cluster, alone, apart = (np.einsum("qi,ij,qj->q", slopes, one, slopes) for one in (robust, inverse, single))
    wider = (_outer(one, float(q * error)) for one, error in zip(plain, np.sqrt(by_cluster), strict=True))
    effect, likeness = (float(by_cluster[1] / one[1]) for one in (alone, apart))
    return ClusteredWeibull(fit.by, *wider, clusters, effect, None, likeness, tuple(map(tuple, robust.tolist())))


def _outer(one: Estimate, half_width: float) -> Estimate:
    """Return the estimate with the outer limits; one that is not reached stays so."""
    low = None if one.low is None else min(one.low, float(one.estimate * np.exp(-half_width)))
    high = None if one.high is None else max(one.high, float(one.estimate * np.exp(half_width)))
    return Estimate(one.estimate, low, high, one.because)
