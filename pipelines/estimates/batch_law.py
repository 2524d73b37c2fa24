"""The law that modules of one kind, place and batch share, and how much alike the modules of one controller are under it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.batch_cells import Cells

#: Rounds of proportional fitting: more move no factor by a hundredth.
ROUNDS = 8
#: What all batches say of how alike the modules of a controller are weighs as much as so many failures of a batch's own.
SHARED_WEIGHT = 100.0


@dataclass(frozen=True)
class SharedLaw:
    """hazard: failures per unit of time, (strata, steps), of a typical batch; factor: of each batch; steps: ends of age steps."""

    hazard: np.ndarray
    factor: np.ndarray
    steps: np.ndarray

    def table(self) -> pd.DataFrame:
        """Return by stratum and step: stratum_no, step, from_age, hazard, until_step (cumulative hazard up to from_age)."""
        strata, count = self.hazard.shape
        whole = np.cumsum(self.hazard * np.diff(self.steps), axis=1)
        until = np.concatenate([np.zeros((strata, 1)), whole[:, :-1]], axis=1)
        return pd.DataFrame({
            "stratum_no": np.repeat(np.arange(strata, dtype=np.int32), count),
            "step": np.tile(np.arange(count, dtype=np.int16), strata), "from_age": np.tile(self.steps[:-1], strata),
            "hazard": self.hazard.ravel(), "until_step": until.ravel(),
        })  # fmt: skip


def shared_law(cells: Cells, strata: pd.DataFrame, steps: np.ndarray) -> SharedLaw:
    """Fit hazards as a product: of age by family and usage class, of site and fitting period, and of batch.

    strata: family, usage_class, site, fitting_period, by number; blanks are a kind of their own. Poisson maximum likelihood by
    iterative proportional fitting (Deming & Stephan 1940, from memory); ROUNDS of it are enough here.
    """
    kind = strata.groupby(["family", "usage_class"], dropna=False).ngroup().to_numpy()
    place = strata.groupby(["site", "fitting_period"], dropna=False).ngroup().to_numpy()
    kinds, places = int(kind.max(initial=-1)) + 1, int(place.max(initial=-1)) + 1
    by_kind, by_place = kind[cells.stratum], place[cells.stratum]
    at_place, of_batch = np.ones(places), np.ones(cells.batch_count)
    failed = cells.failures.sum(axis=1)
    rows = [np.flatnonzero(by_kind == one) for one in range(kinds)]
    exposures = [cells.exposure[some] for some in rows]
    seen = np.array([cells.failures[some].sum(axis=0) for some in rows]).reshape(kinds, len(steps) - 1)
    due = np.zeros(len(by_kind))
    for _ in range(ROUNDS):
        weight = at_place[by_place] * of_batch[cells.batch]
        watched = np.array([weight[some] @ part for some, part in zip(rows, exposures, strict=True)]).reshape(seen.shape)
        base = _over(seen, watched)
        for one, some in enumerate(rows):
            due[some] = exposures[one] @ base[one]
        at_place = _over(np.bincount(by_place, failed, places), np.bincount(by_place, due * of_batch[cells.batch], places))
        whole = due * at_place[by_place]
        of_batch = _over(np.bincount(cells.batch, failed, cells.batch_count), np.bincount(cells.batch, whole, cells.batch_count))
    return SharedLaw(base[kind] * at_place[place][:, None], of_batch, steps)


def _over(seen: np.ndarray, due: np.ndarray) -> np.ndarray:
    return np.divide(seen, due, out=np.zeros_like(due), where=due > 0)


def alikeness(by_unit: np.ndarray, by_module: np.ndarray) -> np.ndarray:
    """Return by batch how many times as large the variance of its failures is as if its modules were independent, 1 at least.

    by_unit, by_module: sums of squares of failures less those expected, summed by controller and by module. What all batches say
    steadies each batch's own. (own construction; the sums are those of a sandwich by cluster)
    """
    shared = by_unit.sum() / by_module.sum() if by_module.sum() > 0 else 1.0
    return np.maximum((by_unit + SHARED_WEIGHT * shared) / (by_module + SHARED_WEIGHT), 1.0)
