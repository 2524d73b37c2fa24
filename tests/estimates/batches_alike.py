"""Fleets with one batch among others: two sticks to a controller, sites that differ, batches that are not spread alike."""

from __future__ import annotations

import numpy as np
import pandas as pd

#: Lives of the rest: shape, and scales of the sites in hours.
SHAPE, SCALES = 2.0, np.array([1000.0, 700.0, 1400.0])
#: Where controllers stand, and how often a stick of each site is of the batch, relative to the other sites.
SITE_SHARES, BATCH_SHARES = np.array([0.5, 0.3, 0.2]), np.array([1.0, 2.0, 0.5])


def fleet(
    rng: np.random.Generator, *, batch_size: int, rest_size: int, ratio: float = 1.0, shape_change: float = 0.0,
    index: float = 1.0, cross_at: float = 400.0, longest: float = 1500.0,
) -> pd.DataFrame:  # fmt: skip
    """Return spells as `alike` takes them, one a row.

    The hazard of the batch over the rest's is ratio·(t / cross_at)^shape_change at every site. index: of the positive stable
    factor that the sticks of a controller share (1: none), which leaves hazards proportional. The batch is watched less long.
    """
    controllers = (batch_size + rest_size) // 2
    site = rng.choice(3, controllers, p=SITE_SHARES)
    factor = stable(rng, controllers, index)
    stick_site, cluster = np.repeat(site, 2), np.repeat(np.arange(controllers), 2)
    weight = BATCH_SHARES[stick_site] * batch_size / (BATCH_SHARES @ SITE_SHARES * 2 * controllers)
    is_batch = rng.random(2 * controllers) < np.minimum(weight, 1.0)
    # H0(t) = (t/η)^β for the rest and ratio·c·(t/η)^(β + change) for the batch, divided by index where a factor is shared
    hazard = (rng.exponential(1, 2 * controllers) / factor[cluster]) ** index
    scale = SCALES[stick_site]
    shape = SHAPE + shape_change
    level = ratio * SHAPE / shape * scale**shape_change / cross_at**shape_change
    life = np.where(is_batch, scale * (hazard / level) ** (1 / shape), scale * hazard ** (1 / SHAPE))
    late = (rng.random(len(life)) < 0.15) * rng.uniform(0, 300, len(life))
    last = late + rng.uniform(0.2, 1, len(life)) * longest * np.where(is_batch, 0.8, 1.0)
    entry, whole, last = np.floor(late), np.maximum(np.ceil(life), 1), np.floor(last)
    rows = pd.DataFrame({
        "is_batch": is_batch, "cell": stick_site, "cluster": cluster, "entry": entry, "at": np.minimum(whole, last),
        "is_failure": whole <= last,
    })  # fmt: skip
    return rows[(whole > entry) & (last > entry)].reset_index(drop=True).assign(spell_count=1)


def stable(rng: np.random.Generator, size: int, index: float) -> np.ndarray:
    """Return positive stable factors (Chambers, Mallows & Stuck 1976); all 1 at index 1."""
    if index == 1:
        return np.ones(size)
    angle, exponential = rng.uniform(0, np.pi, size), rng.exponential(1, size)
    return (
        np.sin(index * angle) / np.sin(angle) ** (1 / index)
        * (np.sin((1 - index) * angle) / exponential) ** ((1 - index) / index)
    )  # fmt: skip


def true_shares(ages: np.ndarray, *, ratio: float = 1.0, shape_change: float = 0.0, cross_at: float = 400.0, site: int = 0):
    """Return the shares of batch and rest still free of failure at a site."""
    scale, shape = SCALES[site], SHAPE + shape_change
    rest = np.exp(-((ages / scale) ** SHAPE))
    level = ratio * SHAPE / shape * scale**shape_change / cross_at**shape_change
    return np.exp(-level * (ages / scale) ** shape), rest
