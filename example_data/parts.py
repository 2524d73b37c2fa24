"""Part batches: which batch a new module comes from, and how its hazard compares."""

from __future__ import annotations

import numpy as np

from example_data.scenario import BATCHES, FAMILIES, World

_KINDS = sorted({batch.sensor_type for batch in BATCHES})
_FAMILY_KIND = np.array([_KINDS.index(f.sensor_type) for f in FAMILIES])
_BY_KIND = [np.array([i for i, b in enumerate(BATCHES) if b.sensor_type == kind]) for kind in _KINDS]
_RECEIVED = np.array([b.received_day for b in BATCHES])


def draw_batch(rng, world: World, family, day) -> np.ndarray:
    """Draw the batch (index into BATCHES) of modules fitted on `day`: one of the last three received of that type."""
    chosen = np.zeros(len(family), int)
    back = rng.integers(0, 3, len(family))
    for kind, batches in enumerate(_BY_KIND):
        here = _FAMILY_KIND[family] == kind
        latest = np.searchsorted(_RECEIVED[batches], day[here], side="right") - 1
        chosen[here] = batches[np.maximum(latest - back[here], 0)]
    return chosen


def ratio_of(world: World, batch) -> np.ndarray:
    """Return the hazard ratio of each module's batch; 1 for the module a unit was built with (−1)."""
    ratios = np.array([b.hazard_ratio for b in world.batches] + [1.0])
    return ratios[batch]
