"""The early alarm over supplier batches: how often it is false in a batch's whole life, and how often a bad batch raises it."""

from __future__ import annotations

from functools import partial

import numpy as np

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.running_evidence import running_evidence
from tests.calibration.score import Kind, Rule, Sample
from tests.estimates.watched_batches import WEEKS, made_batches

TOLERANCE, WATCH, STOP = 1.2, 20.0, 100.0
#: Batches of a fleet of so many failures.
BATCHES = {30: 20, 300: 20, 3000: 200}
#: Variance of the factor that the sticks of a controller share; how much batches differ, on the logarithm.
VARIANCE, SPREAD = 0.3, 0.2
RIGHT, WRONG = Estimate(0.0, -1.0, 1.0), Estimate(0.0, 1.0, 1.0)


def batch_alarm(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Cover: the share of batches without a false alarm, of fleets without any, or of bad batches that raise the alarm."""
    count = BATCHES.get(failures, 20)
    alike, bad = np.ones(count), count // 3
    none, differ, edge, twice, thrice = (
        np.array([_peaks(rng, failures, ratios()) for _ in range(fleets)])
        for ratios in (
            lambda: alike,
            lambda: np.exp(rng.normal(0, SPREAD, count)),
            *(partial(_with, alike, bad, ratio) for ratio in (TOLERANCE, 2.0, 3.0)),
        )
    )
    edge = edge[:, bad]
    fleet = np.repeat(np.arange(fleets), count)
    return {
        "no alarm, batches alike": _sample(none.ravel() < WATCH, Rule.FALSE_5, fleet),
        "no alarm, batches differ by SD 0.2": _sample(differ.ravel() < WATCH, Rule.FALSE_5, fleet),
        "no alarm, as bad as tolerated": _sample(edge < WATCH, Rule.FALSE_5),
        "no alarm to stop, as bad as tolerated": _sample(edge < STOP, Rule.FALSE_1),
        "none among all batches at their limit": _sample(none.max(axis=1) < WATCH * count, Rule.FALSE_5),
        "alarm, twice as bad": _sample(twice[:, bad] >= WATCH, Rule.SHOWN),
        "alarm, three times as bad": _sample(thrice[:, bad] >= WATCH, Rule.SHOWN),
    }  # fmt: skip


def _peaks(rng: np.random.Generator, failures: int, ratios: np.ndarray) -> np.ndarray:
    """Return the highest evidence of each batch of one fleet."""
    counts = made_batches(rng, failures, ratios, variance=VARIANCE)
    told = running_evidence(counts, batches=len(ratios), looks=WEEKS, tolerance=TOLERANCE)
    return np.exp(np.minimum(told.log_evidence.max(axis=1), 600))


def _with(ratios: np.ndarray, place: int, ratio: float) -> np.ndarray:
    changed = ratios.copy()
    changed[place] = ratio
    return changed


def _sample(is_right: np.ndarray, rule: Rule, fleet: np.ndarray | None = None) -> Sample:
    return Sample.of([RIGHT if one else WRONG for one in is_right], 0.0, Kind.LIMIT, rule, fleet)
