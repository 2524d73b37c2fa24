"""The parts of the table: what each makes and estimates, and how many of the fleets asked for it takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.calibration import (
    batch_alarms,
    batch_patterns,
    batches,
    cleaning,
    comparisons,
    fates,
    forecasts,
    intervals,
    lives,
    lots,
    realism,
    shares,
    triage,
)
from tests.calibration.score import Line, Sample, scored

SEED = 20_261_125
SIZES = (30, 300, 3000)
#: Failures in one call of an estimate: more fleets go into separate calls.
FAILURES_AT_ONCE = 60_000


@dataclass(frozen=True)
class Part:
    """make(rng, failures, fleets) returns a sample for each estimate; share: of the fleets asked for."""

    make: Callable[[np.random.Generator, int, int], dict[str, Sample]]
    share: float = 1.0

    def chunks(self, failures: int, fleets: int) -> list[int]:
        """Return how many fleets go into each call."""
        number = max(round(fleets * self.share), 1)
        at_once = min(max(FAILURES_AT_ONCE // failures, 1), number)
        return [at_once] * (number // at_once) + [number % at_once] * (number % at_once > 0)


PARTS = {
    "curve": Part(lives.curve),
    "weibull": Part(lives.weibull_fits),
    "lognormal": Part(lives.lognormal_fits),
    "fixed_shape": Part(lives.fixed),
    "turnbull": Part(lives.turnbull_curve),
    "incidence": Part(lives.incidence),
    "by_controller": Part(fates.by_controller),
    "by_site": Part(fates.by_site),
    "proportion_by_site": Part(fates.proportion_by_site),
    "shared_factor": Part(fates.shared_factor),
    "families": Part(fates.families),
    "one_share": Part(shares.one_share),
    "durable": Part(shares.durable_share),
    "pooled_cells": Part(shares.pooled_cells),
    "standardised": Part(shares.standardised_share),
    "ratios": Part(comparisons.ratios),
    "repeated": Part(comparisons.repeated),
    "trends": Part(comparisons.trends),
    "clocks": Part(comparisons.clocks),
    "cleans": Part(cleaning.cleans),
    "cleaning_interval": Part(intervals.cleaning_interval, 0.2),
    "forecast": Part(forecasts.forecast, 0.25),
    "triage": Part(triage.single_sticks, 0.1),
    "lot_bid": Part(lots.lot_bid, 0.2),
    "family_ranks": Part(lots.family_ranks, 0.25),
    "batch_alarm": Part(batch_alarms.batch_alarm, 0.1),
    "batch_pattern": Part(batch_patterns.batch_pattern, 0.1),
    "batches": Part(batches.batches, 0.1),
    **{f"real_{name}": Part(make, share) for name, (make, share) in realism.PARTS.items()},
}


def made(name: str, failures: int, chunk: int, fleets: int) -> dict[str, Sample]:
    """Return one call of a part; the same numbers whatever ran before or beside it."""
    seed = np.random.SeedSequence([SEED, *name.encode(), failures, chunk])
    return PARTS[name].make(np.random.default_rng(seed), failures, fleets)


def judged(failures: int, samples: list[dict[str, Sample]]) -> list[Line]:
    return [scored(what, failures, Sample.joined([one[what] for one in samples])) for what in samples[0]]
