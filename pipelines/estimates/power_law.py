"""The likelihood of a hazard that goes with a power of time and of a covariate, from counts, for many groups at once.

The cumulative hazard is H = exp(c + βx + δg), x the log of time, g a covariate. At its best c the log-likelihood is
n log β + βΣx + δΣg − n log R (and a constant), R = Σ w·exp(βx + δg) with w > 0 for each end of watching and w < 0 for each
late entry. R is β times an integral of exponentials over what was watched, so this is concave in (β, δ).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

STEPS_AT_MOST = 60
SMALL_STEP = 1e-10
#: A β or δ beyond these says that the data fix none.
LEAST_SHAPE, LARGEST_SHAPE, LARGEST_DELTA = 1e-3, 1e4, 1e6


class Slopes(NamedTuple):
    """By group: the log-likelihood at its best c (without its constant), its slopes and its curvatures."""

    value: np.ndarray
    b: np.ndarray
    d: np.ndarray
    bb: np.ndarray
    bd: np.ndarray
    dd: np.ndarray
    log_at_risk: np.ndarray


@dataclass(frozen=True)
class PowerCounts:
    """By group: failures and the sums of their x and g; by row (group `code`): x, g and weight of all ends and entries.

    x is best taken from a group's longest time and g from its middle, so that no exponential overflows.
    """

    failures: np.ndarray
    x_sum: np.ndarray
    g_sum: np.ndarray
    code: np.ndarray
    x: np.ndarray
    g: np.ndarray
    weight: np.ndarray

    def slopes(self, shape: np.ndarray, delta: np.ndarray) -> Slopes:
        """Return the log-likelihood at β and δ of each group; −∞ where rounding leaves nothing at risk."""
        code, x, g, n = self.code, self.x, self.g, self.failures
        exponent = shape[code] * x + delta[code] * g
        peak = np.full(len(n), -np.inf)
        np.maximum.at(peak, code, exponent)
        part = self.weight * np.exp(exponent - peak[code])

        def total(values: np.ndarray) -> np.ndarray:
            return np.bincount(code, weights=values, minlength=len(n))

        at_risk = total(part)
        is_sound = at_risk > 0
        at_risk = np.where(is_sound, at_risk, 1.0)
        x_part, g_part = x * part, g * part
        mean_x, mean_g = total(x_part) / at_risk, total(g_part) / at_risk
        log_at_risk = np.log(at_risk) + peak
        value = n * np.log(shape) + shape * self.x_sum + delta * self.g_sum - n * log_at_risk
        return Slopes(
            np.where(is_sound, value, -np.inf),
            n / shape + self.x_sum - n * mean_x,
            self.g_sum - n * mean_g,
            -n / shape**2 - n * (total(x * x_part) / at_risk - mean_x**2),
            -n * (total(g * x_part) / at_risk - mean_x * mean_g),
            -n * (total(g * g_part) / at_risk - mean_g**2),
            log_at_risk,
        )


def climb(
    counts: PowerCounts, shape: np.ndarray, gamma: np.ndarray, *, is_free: bool
) -> tuple[np.ndarray, np.ndarray, Slopes, np.ndarray]:
    """Climb to the top in β and δ; with `is_free` false along δ = −βγ for the γ given.

    Returns β, γ = −δ/β, the slopes there and whether it is a top. Newton's steps, halved where the likelihood would fall.
    """
    delta = -shape * gamma
    here = counts.slopes(shape, delta)
    scale = np.ones(len(shape))
    is_done = np.zeros(len(shape), dtype=bool)
    for _ in range(STEPS_AT_MOST):
        step_b, step_d, is_peaked = _step(here, gamma, is_free=is_free)
        is_done |= is_peaked & (np.maximum(abs(step_b), abs(step_d)) < SMALL_STEP * shape) & (scale == 1)
        is_lost = (scale < 1e-9) | (shape < LEAST_SHAPE) | (shape > LARGEST_SHAPE) | (abs(delta) > LARGEST_DELTA)
        if (is_done | is_lost).all():
            break
        # β stays positive: no step takes more than three quarters of it. None goes further than four times.
        reach_b, reach_d = np.where(step_b < 0, 0.75, 4.0) * shape, 4 * (1 + abs(delta))
        cap = 1 / np.maximum(1.0, np.maximum(abs(step_b) / reach_b, abs(step_d) / reach_d))
        cap = np.where(is_done | is_lost, 0.0, cap * scale)
        there = counts.slopes(shape + cap * step_b, delta + cap * step_d)
        is_up = there.value >= here.value - 1e-11 * np.maximum(abs(here.value), 1.0)
        shape, delta = np.where(is_up, shape + cap * step_b, shape), np.where(is_up, delta + cap * step_d, delta)
        here = Slopes(*(np.where(is_up, new, old) for new, old in zip(there, here, strict=True)))
        scale = np.where(is_up, 1.0, scale / 2)
    is_top = is_done & (shape > LEAST_SHAPE) & (shape < LARGEST_SHAPE)
    return shape, -delta / shape, here, is_top


def _step(at: Slopes, gamma: np.ndarray, *, is_free: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return Newton's step in β and δ, and whether the surface is curved there."""
    if not is_free:
        slope, bend = at.b - gamma * at.d, at.bb - 2 * gamma * at.bd + gamma**2 * at.dd
        is_peaked = bend < 0
        step = slope / np.where(is_peaked, -bend, 1.0)
        return step, -gamma * step, is_peaked
    determinant = at.bb * at.dd - at.bd**2
    is_peaked = (determinant > 0) & (at.bb < 0)
    safe = np.where(is_peaked, determinant, 1.0)
    step_b = np.where(is_peaked, (at.bd * at.d - at.dd * at.b) / safe, at.b / np.maximum(abs(at.bb), 1e-300))
    step_d = np.where(is_peaked, (at.bd * at.b - at.bb * at.d) / safe, 0.0)
    return step_b, step_d, is_peaked
