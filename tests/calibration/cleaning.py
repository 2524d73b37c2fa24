"""Parts of the table on what a clean gives back and how long cleans hold."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.restoration import restoration
from tests.calibration.score import Kind, Rule, Sample
from tests.estimates.gaps import random_fleet

KEPT = {"a": 0.3, "b": 0.7}
SHAPE, SCALE, HORIZON = 2.5, 500.0, 150.0
#: About nine failures a controller of two sticks.
FAILURES_PER_CONTROLLER = 9


def cleans(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Two depths that leave 0.3 and 0.7 of the age, shape 2.5, controllers with a gamma factor of variance 0.3."""
    restored = {depth: [] for depth in KEPT}
    held = {depth: ([], []) for depth in KEPT}
    shapes = []
    for _ in range(fleets):
        fleet = random_fleet(
            int(rng.integers(2**31)), controllers=max(failures // FAILURES_PER_CONTROLLER, 2), kept=tuple(KEPT.values())
        )
        (fit,) = restoration(fleet.gaps, by=[], horizon=HORIZON)
        shapes.append(fit.shape)
        for effect in fit.effects:
            restored[effect.depth].append(effect.restoration_share)
            held[effect.depth][0].append(effect.holding_share)
            held[effect.depth][1].append(fleet.holding_share(effect.depth, horizon=HORIZON))
    found = {"drift against age: shape": Sample.of(shapes, SHAPE)}
    for depth, kept in KEPT.items():
        found[f"restoration, {1 - kept:.1f} given back"] = Sample.of(restored[depth], 1 - kept, Kind.SHARE, Rule.GATED)
        found[f"cleans that hold {HORIZON:.0f} h, {1 - kept:.1f} given back"] = Sample.of(*held[depth], Kind.SHARE)
    return found
