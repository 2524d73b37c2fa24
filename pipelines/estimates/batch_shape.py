"""Whether a batch fails early or wears out: its Weibull shape beside that of the rest, weighted to the batch's own cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.accelerated import LifeSpells, life_likelihood, life_residuals
from pipelines.estimates.climb import climb
from pipelines.estimates.clustered import LEAST_CLUSTERS
from pipelines.estimates.clustered_weibull import clustered_weibull
from pipelines.estimates.counts import group
from pipelines.estimates.cox_robust import sandwich
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class BatchShape:
    """Weibull shapes of batch and rest over the same ages, without a unit, limits by controller."""

    batch: Estimate
    rest: Estimate


def batch_shape(spells: pd.DataFrame, *, until: float, level: float = 0.95, min_failures: int = 6) -> BatchShape:
    """Fit both sides up to the age `until`, whatever is watched after it; cells that only one side has are left out.

    spells: as `alike` takes them, with `lower` and `upper` as `weibull` does. The shape of the batch has the limits of
    `clustered_weibull`. Each spell of the rest weighs as many spells of the batch as its cell has, over those of the rest: that
    fit's limits are the sandwich's by controller. Refused as `weibull`.
    """
    cells = group([spells], by=["cell"])
    code, is_batch = cells.codes[0], spells["is_batch"].to_numpy(dtype=bool)
    count = spells["spell_count"].to_numpy(dtype=float)
    mine, others = (np.bincount(code, count * one, cells.count) for one in (is_batch, ~is_batch))
    is_used = ((mine > 0) & (others > 0))[code] & (spells["entry"].to_numpy(dtype=float) < until) & (count > 0)
    frame, is_left = _until(spells[is_used], until)
    weight = (mine / np.maximum(others, 1))[code][is_used][is_left]
    is_batch = is_batch[is_used][is_left]
    if not is_batch.any() or is_batch.all():
        return BatchShape(*[Estimate.refused(Because.NO_SPELLS)] * 2)
    batch = clustered_weibull(frame[is_batch], by=[], level=level, min_failures=min_failures)[0].shape
    return BatchShape(batch, _weighted(frame[~is_batch], weight[~is_batch], level=level, min_failures=min_failures))


def _until(spells: pd.DataFrame, until: float) -> tuple[pd.DataFrame, np.ndarray]:
    """Return the spells with whatever comes after an age cut off, and which of them are left.

    A failure between two visits that spans the age was still good at the first of them.
    """
    is_over = (spells["at"] > until).to_numpy()
    lower, upper = spells["lower"].to_numpy(dtype=float), spells["upper"].to_numpy(dtype=float)
    lower = np.where(is_over, np.minimum(lower, until), lower)
    is_left = ~is_over | (lower > spells["entry"].to_numpy(dtype=float))
    return spells.assign(lower=lower, upper=np.where(is_over, np.inf, upper))[is_left], is_left


def _weighted(spells: pd.DataFrame, weight: np.ndarray, *, level: float, min_failures: int) -> Estimate:
    """Return the shape of weighted spells."""
    (plain,) = weibull(spells, by=[], level=level, min_failures=min_failures)
    if plain.because is not None:
        return Estimate.refused(plain.because)
    columns = [spells[name].to_numpy(dtype=float) for name in ("entry", "lower", "upper", "spell_count")]
    # The log scale is measured from the plain fit's, so that a step means the same in every unit of time.
    columns[:3] = [one / plain.scale.estimate for one in columns[:3]]
    columns[3] = columns[3] * weight
    rows = LifeSpells(*columns, np.ones((len(spells), 1)))
    top = climb(lambda theta: life_likelihood(rows, theta), np.array([0.0, np.log(plain.shape.estimate)]))
    cluster = np.unique(group([spells], by=["cluster"]).codes[0], return_inverse=True)[1]
    clusters = int(cluster.max()) + 1
    if top is None:
        return Estimate.refused(Because.FIT_FAILED)
    theta, shape = top[0], float(np.exp(top[0][1]))
    if clusters < LEAST_CLUSTERS:
        return Estimate(shape, None, None, Because.TOO_FEW_CLUSTERS)
    from scipy.stats import t

    robust = sandwich(top[1].information, life_residuals(rows, theta), rows.count, cluster) * clusters / (clusters - 1)
    reach = float(np.exp(t.ppf((1 + level) / 2, clusters - 1) * np.sqrt(robust[1, 1])))
    return Estimate(shape, shape / reach, shape * reach)
