"""B10 of each batch: its own Weibull fit, or with few failures one of the shape that the batches share."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pandas as pd

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.fixed_shape import LARGEST_SHAPE, LEAST_SHAPE, fixed_shape
from pipelines.estimates.weibull import WeibullFit, weibull
from pipelines.settings import Settings

_COLUMNS = ["batch", "entry", "lower", "upper"]


def batch_lives(lives: pd.DataFrame, settings: Settings, *, alikeness: float, level: float) -> dict[str, tuple[Estimate, str]]:
    """Return {batch: (b10 with limits, `own` or `shared_shape`)}; lives: as `Batches.counts`.

    Limits are those of a level so much higher that they hold where modules share controllers: the root of the likelihood ratio
    over the root of `alikeness`. Few failures: the setting assumed_shape, else the mean of the fitted batches' log shapes.
    """
    if not len(lives):
        return {}
    wider = 2 * NormalDist().cdf(NormalDist().inv_cdf((1 + level) / 2) * alikeness**0.5) - 1
    counts = lives.groupby(_COLUMNS, as_index=False, sort=False, dropna=False)["spell_count"].sum()
    fits = weibull(counts, by=["batch"], level=wider, min_failures=settings.min_failures)
    found = {fit.by[0]: (fit.b10, "own") for fit in fits if fit.because is None}
    shape = settings.assumed_shape or _shared_shape(fits)
    few = [fit.by[0] for fit in fits if fit.because is not None]
    if shape is not None and few:
        shared = fixed_shape(counts[counts["batch"].isin(few)], by=["batch"], shape=shape, level=wider)
        found |= {fit.by[0]: (fit.life.b10, "shared_shape") for fit in shared}
    return found


def _shared_shape(fits: list[WeibullFit]) -> float | None:
    told = [fit for fit in fits if fit.because is None]
    if not told:
        return None
    mean = np.average([np.log(fit.shape.estimate) for fit in told], weights=[fit.failures for fit in told])
    return float(np.clip(np.exp(mean), LEAST_SHAPE, LARGEST_SHAPE))
