"""Faults to come: the chance of each stick, and many simulated futures of all sticks together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.fault_laws import FaultLaws
from pipelines.vocabulary import Because

#: A stick that fails more often than this within one future has no law worth following further.
ROUNDS_AT_MOST = 60
#: Fewer past quarters than this do not tell how quarters differ, and no more than so many are looked at.
LEAST_QUARTERS, MOST_QUARTERS = 4, 8
#: How far the last year may have drifted from the laws of the whole log, on the log of the ratio.
DRIFT_SD = 0.1


@dataclass(frozen=True)
class Sticks:
    """Sticks in service. age: on the clock of the law; pace: units of that clock a day (1 for days); cell: of the laws.

    cell_cleaned, cell_new: the laws it follows after a clean, and with a new part.
    """

    age: np.ndarray
    pace: np.ndarray
    cell: np.ndarray
    cell_cleaned: np.ndarray
    cell_new: np.ndarray


@dataclass(frozen=True)
class Events:
    """Faults in the simulated futures, a row each: which future, which stick, on which day from now, and if a part was fitted."""

    future: np.ndarray
    stick: np.ndarray
    day: np.ndarray
    is_part: np.ndarray


@dataclass(frozen=True)
class Shock:
    """How past quarters went against what was expected of them, on the log of the ratio.

    sd: between quarters beyond chance, None with under LEAST_QUARTERS of them; level, level_sd: of the last LEAST_QUARTERS,
    drawn to 0 as far as chance may explain it; quarters: how many were looked at.
    """

    sd: float | None
    level: float
    level_sd: float
    quarters: int


def fault_chances(
    sticks: Sticks, laws: FaultLaws, factor: np.ndarray, *, days: float, level: float = 0.9
) -> list[Estimate]:  # fmt: skip
    """Return the chance that each stick comes to a fault within so many days, given that it is good at its age.

    factor: of the hazard, (draws, sticks). The estimate is the mean of the draws, the limits are their quantiles.
    """
    chance = -np.expm1(-expected_faults(sticks, laws, factor, days=days))
    low, high = np.quantile(chance, [(1 - level) / 2, (1 + level) / 2], axis=0)
    return [Estimate(*one) for one in zip(chance.mean(axis=0).tolist(), low.tolist(), high.tolist(), strict=True)]


def expected_faults(sticks: Sticks, laws: FaultLaws, factor: np.ndarray, *, days: float) -> np.ndarray:
    """Return the cumulative hazard of each stick over the next days by draw, (draws, sticks): its faults if it did not change."""
    return factor * _hazard(sticks, laws, days)


def futures(
    sticks: Sticks, laws: FaultLaws, factor: np.ndarray, part_share: np.ndarray, *, days: float, rng: np.random.Generator
) -> Events:
    """Simulate the faults of the next days, one future a draw of the laws.

    factor, part_share: (draws, sticks): of the hazard; of faults that a new part puts right, others a clean. A stick is put
    right the day it fails, and then follows the law of what was done. Nothing is cleaned by a plan, added or withdrawn.
    Method: conditional Weibull lives by inversion; only those that fail go into the next round.
    """
    threshold = rng.standard_exponential(factor.shape) / factor
    future, stick = np.nonzero(threshold < _hazard(sticks, laws, days))
    threshold, day = threshold[future, stick], np.zeros(len(future))
    age, cell = sticks.age[stick], sticks.cell[stick]
    found = []
    for _ in range(ROUNDS_AT_MOST):
        if not len(future):
            break
        shape, log_scale = np.exp(laws.log_shape[future, cell]), laws.log_scale[future, cell]
        failed_at = np.exp(log_scale + np.log(_power(age, log_scale, shape) + threshold) / shape)
        day = day + np.maximum(failed_at - age, 0) / np.maximum(sticks.pace[stick], 1e-12)
        is_in = day <= days
        future, stick, day = future[is_in], stick[is_in], day[is_in]
        is_part = rng.random(len(future)) < part_share[future, stick]
        found.append((future, stick, day, is_part))
        cell = np.where(is_part, sticks.cell_new[stick], sticks.cell_cleaned[stick])
        age, threshold = np.zeros(len(future)), rng.standard_exponential(len(future)) / factor[future, stick]
    if not found:
        return Events(*(np.zeros(0, dtype=kind) for kind in (np.int64, np.int64, float, bool)))
    return Events(*(np.concatenate(column) for column in zip(*found, strict=True)))


def quarter_shock(observed: np.ndarray, expected: np.ndarray) -> Shock:
    """Tell how past quarters went against what the laws expected of them.

    observed, expected: faults by quarter, the last one last; the last MOST_QUARTERS of which anything was expected are used.
    sd: the variance of the log ratios less that of Poisson counts, never under 0. level: that of the last LEAST_QUARTERS
    together, under a normal prior of DRIFT_SD, as far as neither counts nor the differences of single quarters explain it.
    """
    observed, expected = np.asarray(observed, dtype=float), np.asarray(expected, dtype=float)
    is_used = expected >= 1
    seen, due = observed[is_used][-MOST_QUARTERS:] + 0.5, expected[is_used][-MOST_QUARTERS:] + 0.5
    if len(seen) < LEAST_QUARTERS:
        return Shock(None, 0.0, 0.0, len(seen))
    sd = float(np.sqrt(max(np.log(seen / due).var(ddof=1) - np.mean(1 / due), 0.0)))
    last_seen, last_due = seen[-LEAST_QUARTERS:].sum(), due[-LEAST_QUARTERS:].sum()
    told = DRIFT_SD**2 / (DRIFT_SD**2 + 1 / last_due + sd**2 / LEAST_QUARTERS)
    return Shock(sd, float(told * np.log(last_seen / last_due)), float(DRIFT_SD * np.sqrt(1 - told)), len(seen))


def shock_factors(shock: Shock, *, count: int, rng: np.random.Generator) -> np.ndarray:
    """Draw what the coming quarter does to all hazards, (draws,); 1 where past quarters do not tell.

    On the log: the level of the last year and Student's t, as wide as one more quarter may be.
    """
    if shock.sd is None:
        return np.ones(count)
    t = rng.standard_t(shock.quarters - 1, count) * shock.sd * np.sqrt(1 + 1 / shock.quarters)
    level = shock.level + shock.level_sd * rng.standard_normal(count)
    # (the tails are heavy: one quarter is not taken to be ten times another)
    return np.exp(np.clip(t + level, -np.log(10), np.log(10)))


def total_of(drawn: np.ndarray, *, level: float) -> Estimate:
    """Return the expected total of drawn whole numbers, with the quantiles of the draws as limits; none: `no_spells`."""
    if not len(drawn):
        return Estimate.refused(Because.NO_SPELLS)
    low, high = np.quantile(drawn, [(1 - level) / 2, (1 + level) / 2], method="inverted_cdf")
    return Estimate(float(drawn.mean()), float(low), float(high))


def _hazard(sticks: Sticks, laws: FaultLaws, days: float) -> np.ndarray:
    """Return the cumulative hazard over the next days, (draws, sticks)."""
    log_scale, shape = laws.log_scale[:, sticks.cell], np.exp(laws.log_shape[:, sticks.cell])
    return _power(sticks.age + sticks.pace * days, log_scale, shape) - _power(sticks.age, log_scale, shape)


def _power(age: np.ndarray, log_scale: np.ndarray, shape: np.ndarray) -> np.ndarray:
    """Return (age / scale)^shape, 0 at age 0."""
    log_age = np.log(np.maximum(age, 1e-300))
    return np.where(age > 0, np.exp(np.minimum(shape * (log_age - log_scale), 600.0)), 0.0)
