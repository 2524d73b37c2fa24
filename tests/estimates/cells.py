"""Spells one by one as the counts that batches are compared from, and fleets of batches whose truth is known."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.estimates.batch_cells import Cells


def cells_of(spells: pd.DataFrame, steps: np.ndarray) -> Cells:
    """Return the cells of spells: stratum_no, batch_no, entry, at, is_failure."""
    ended = spells.assign(step=np.searchsorted(steps, spells["at"], side="left") - 1, is_entry=False)
    ended["age_sum"] = ended["at"].where(~ended["is_failure"], 0.0)
    late = spells[spells["entry"] > 0]
    begun = late.assign(step=np.searchsorted(steps, late["entry"], side="right") - 1, is_entry=True, age_sum=late["entry"])
    begun["is_failure"] = False
    rows = pd.concat([ended, begun])
    counts = rows.groupby(["stratum_no", "batch_no", "step", "is_entry"], as_index=False).agg(
        spell_count=("at", "size"), age_sum=("age_sum", "sum"), failure_count=("is_failure", "sum")
    )
    return Cells.of(counts, steps, int(spells["batch_no"].max()) + 1)


def made_spells(
    rng: np.random.Generator, *, batches: int, modules: int, ratios: np.ndarray | None = None, strata: int = 12,
    shape: float = 1.6, scale: float = 700.0,
) -> pd.DataFrame:  # fmt: skip
    """Return independent Weibull lives of batches that came one after another, so that they differ in age; strata differ too."""
    batch = rng.integers(0, batches, modules)
    stratum = rng.integers(0, strata, modules)
    hazard = np.exp(rng.normal(0, 0.5, strata))[stratum] * (1.0 if ratios is None else ratios[batch])
    life = scale * (rng.exponential(size=modules) / hazard) ** (1 / shape)
    watched = np.maximum(1000 * (1 - batch / batches) * rng.uniform(0.5, 1, modules), 5)
    entry = np.where(rng.random(modules) < 0.1, 0.3 * watched, 0.0)
    is_seen = life > entry
    return pd.DataFrame({
        "stratum_no": stratum, "batch_no": batch, "entry": entry, "at": np.minimum(life, watched), "is_failure": life <= watched
    })[is_seen].reset_index(drop=True)  # fmt: skip


def steps_of(spells: pd.DataFrame, count: int = 64) -> np.ndarray:
    """Return ends of age steps with about as many failures each."""
    inner = np.quantile(spells.loc[spells["is_failure"], "at"], np.arange(1, count) / count)
    return np.unique(np.concatenate([[0.0], inner, [spells["at"].max()]]))
