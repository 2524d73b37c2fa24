"""The part of the table on planned cleaning: what the advised interval truly costs, and how often one is advised for nothing.

Fleets of controllers that differ (gamma factor of variance 0.3), every fault of which is cleaned; the law, what a clean leaves
of the age and what a fault costs are drawn anew for each fleet.
"""

from __future__ import annotations

import numpy as np

from pipelines.decisions.cleaning_interval import Costs, fleet_rates, planned_cleaning
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.renewal_cost import Renewal
from pipelines.estimates.renewal_law import renewal_laws
from pipelines.vocabulary import Calendar
from tests.calibration.score import Kind, Rule, Sample
from tests.estimates.gaps import random_fleet

SHAPES, KEPT, FAULT_COSTS = (1.0, 1.3, 1.6, 2.0, 2.5, 3.0), (0.1, 0.35, 0.6), (2.0, 4.0, 8.0)
SCALE, VARIANCE, HARM, END = 500.0, 0.3, 0.02, 1500.0
#: Intervals among which the true best one is sought, the last of them: never.
FINE = np.append(SCALE * np.geomspace(0.05, 8.0, 80), np.inf)
#: Of the draws of the law every so many are weighed.
EVERY = 4
#: A calendar that truly saves less than this share is one for nothing.
NOTHING = 0.001
REFUSED = Estimate(None, None, None)
ADVISED, FOR_NOTHING = "cost of the advised interval within 2 % of the least", "no calendar where none saves"


def cleaning_interval(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Bias: how much more the advised interval truly costs than the best; refused: none was advised though one would save."""
    advised, least, kept_off = [], [], []
    for _ in range(fleets):
        verdict, cost, best = trial(rng, failures)
        is_advised = verdict is Calendar.CLEAN
        if best < 1 - NOTHING:
            advised.append(Estimate(cost, cost / 1.02, None) if is_advised else REFUSED)
            least.append(best)
        else:
            kept_off.append(Estimate(0.0, *((1.0, 1.0) if is_advised else (-1.0, 1.0))))
    return {
        ADVISED: Sample.of(advised, least, Kind.RATIO, Rule.SHOWN),
        FOR_NOTHING: Sample.of(kept_off, 0.0, Kind.PLAIN, Rule.RARELY),
    }


def trial(rng: np.random.Generator, failures: int) -> tuple[Calendar, float, float]:
    """Make a fleet and answer; return the verdict, and what the advice and the best truly cost as shares of waiting."""
    shape, kept, fault = (float(rng.choice(one)) for one in (SHAPES, KEPT, FAULT_COSTS))
    truth = Renewal(shape, SCALE, kept, kept)
    faults, cleans = fleet_rates(truth, np.array([VARIANCE]), FINE)
    costs = (fault * (faults + HARM * cleans) + cleans)[0]
    fleet = random_fleet(
        int(rng.integers(2**31)), controllers=max(round(failures / (2 * END * faults[0, -1])), 4), shape=shape, scale=SCALE,
        kept=(kept,), variance=VARIANCE, end=END,
    )  # fmt: skip
    (law,) = renewal_laws(fleet.gaps, by=[])
    least = float(costs.min() / costs[-1])
    if law.because is not None:
        return Calendar.TOO_CLOSE, 1.0, least
    (clean,) = law.depths
    is_best_case = clean.because is not None
    leaves = 0.0 if is_best_case else clean.kept[::EVERY]
    drawn = Renewal(law.shapes[::EVERY], law.scales[::EVERY], leaves, leaves)
    found = planned_cleaning(
        drawn, law.variances[::EVERY], Costs(1.0, fault), harm_share=HARM, failures=law.failures_counted,
        is_best_case=is_best_case,
    )  # fmt: skip
    if found.interval is None:
        return found.verdict, 1.0, least
    faults, cleans = fleet_rates(truth, np.array([VARIANCE]), np.array([found.interval]))
    return found.verdict, float((fault * (faults + HARM * cleans) + cleans)[0, 0] / costs[-1]), least
