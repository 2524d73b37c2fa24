"""The top of the likelihood of gaps, and where its profile has dropped far enough: ratio limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.restoration_likelihood import Likelihood

#: Tried before the climb: shapes, and the share of age that any clean keeps.
START_SHAPES, START_KEPT = (1.0, 1.6, 2.5, 4.0), (0.15, 0.5, 0.85)
#: The variance between controllers at the start.
START_VARIANCE = 0.2
#: Climbs that have come this near to each other after so many steps are one.
NEAR, FIRST_STEPS, STEPS_AT_MOST = 0.3, 5, 200
#: The climb ends where no slope is steeper: below it lies the rounding of the value. One Newton step follows.
LEAST_SLOPE = 1e-3
#: A climb that stopped where more than this can be gained is taken up again, so often.
LEAST_GAIN, CLIMBS_AT_MOST = 1e-2, 4
#: Log-odds of a kept share (or the log of a variance) beyond which it is 0 or 1 for any purpose.
EDGE = 10.0
#: A log shape beyond this, or known no better than this, says that the data fix no shape.
WIDEST_LOG_SHAPE, WIDEST_ERROR = np.log(100.0), 3.0
#: Weak prior of the draws only: log-odds of the share kept; log variance, which covers .02 to 2.
KEPT_PRIOR_SD, VARIANCE_PRIOR_MEAN, VARIANCE_PRIOR_SD = 1.8, np.log(0.2), 1.2
#: A limit is found when the root of twice the drop is this near its quantile.
ROOT_TOLERANCE, LIMIT_STEPS = 1e-3, 40


@dataclass(frozen=True)
class Model:
    """The surface to climb. Coordinates: c, log shape, log-odds of the share kept of each free kind, log variance.

    held: by kind, the share kept where it is known, NaN where it is free; has_variance: controllers differ;
    has_prior: the weak prior is added.
    """

    likelihood: Likelihood
    held: np.ndarray
    has_variance: bool = True
    has_prior: bool = False

    @property
    def free(self) -> np.ndarray:
        return np.flatnonzero(np.isnan(self.held))

    @property
    def size(self) -> int:
        return 2 + len(self.free) + self.has_variance

    def natural(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Return c, shape, the shares kept (…, kinds) and the variance at x of (…, coordinates)."""
        kept = np.broadcast_to(self.held, (*x.shape[:-1], len(self.held))).copy()
        kept[..., self.free] = 1 / (1 + np.exp(-np.clip(x[..., 2 : 2 + len(self.free)], -3 * EDGE, 3 * EDGE)))
        shape = np.exp(np.clip(x[..., 1], -2 * WIDEST_LOG_SHAPE, 2 * WIDEST_LOG_SHAPE))
        variance = np.exp(np.clip(x[..., -1], -3 * EDGE, EDGE)) if self.has_variance else np.zeros(x.shape[:-1])
        return x[..., 0], shape, kept, variance

    def value_and_slopes(self, x: np.ndarray) -> tuple[float, np.ndarray]:
        c, shape, kept, variance = self.natural(x)
        found = self.likelihood.slopes(float(c), float(shape), kept, float(variance))
        value, odds = found.value, (kept * (1 - kept))[self.free]
        slopes = [found.c, shape * found.shape, *(found.kept[self.free] * odds), *[variance * found.variance] * self.has_variance]
        slopes = np.array(slopes, dtype=float)
        if self.has_prior:
            share, middle = slice(2, 2 + len(self.free)), VARIANCE_PRIOR_MEAN
            value -= (x[share] ** 2).sum() / (2 * KEPT_PRIOR_SD**2)
            slopes[share] -= x[share] / KEPT_PRIOR_SD**2
            if self.has_variance:
                value -= (x[-1] - middle) ** 2 / (2 * VARIANCE_PRIOR_SD**2)
                slopes[-1] -= (x[-1] - middle) / VARIANCE_PRIOR_SD**2
        return value, slopes

    def curvature(self, x: np.ndarray, *, is_rough: bool = False) -> np.ndarray:
        """Return minus the second slopes, by central differences of the slopes; rough: by forward ones."""
        steps = 1e-4 * np.eye(self.size)
        behind = [self.value_and_slopes(x)[1]] * self.size if is_rough else [self.value_and_slopes(x - one)[1] for one in steps]
        ahead = [self.value_and_slopes(x + one)[1] for one in steps]
        rows = (np.array(behind) - np.array(ahead)) / (1e-4 if is_rough else 2e-4)
        return (rows + rows.T) / 2


@dataclass(frozen=True)
class Top:
    """Where the surface is highest: coordinates, value, minus the second slopes; is_found: the data fix a shape there."""

    x: np.ndarray
    value: float
    curvature: np.ndarray
    is_found: bool


def top_of(model: Model) -> Top:
    """Climb from the two best of a few starts that differ in the share kept."""
    everything = np.arange(model.size)
    starts = _starts(model)
    inverse = np.linalg.inv(peaked(model.curvature(starts[0], is_rough=True)))
    begun = [climb(model, start, everything, inverse, steps=FIRST_STEPS) for start in starts]
    best = max(begun, key=lambda one: one[1])
    apart = [one for one in begun if one is best or abs(one[0] - best[0]).max() > NEAR]
    climbed = [climb(model, x, everything, inverse) for x, _, inverse in apart]
    x, value, _ = max(climbed, key=lambda one: one[1])
    for _ in range(CLIMBS_AT_MOST):
        curvature = model.curvature(x)
        inverse, slopes = np.linalg.inv(peaked(curvature)), model.value_and_slopes(x)[1]
        step = inverse @ slopes
        is_top = slopes @ step < LEAST_GAIN
        if is_top or abs(x[1]) > WIDEST_LOG_SHAPE:
            break
        x, value, _ = climb(model, x, everything, inverse)
    stepped = model.value_and_slopes(x + step)[0] if abs(step).max() < 0.1 else -np.inf
    if stepped >= value - 1e-12 * abs(value):
        x, value = x + step, stepped
    is_fixed = abs(x[1]) < WIDEST_LOG_SHAPE and np.sqrt(inverse[1, 1]) < WIDEST_ERROR
    return Top(x, value, curvature, bool(is_top and is_fixed))


def _starts(model: Model) -> list[np.ndarray]:
    """Return the best starts: the shape that does best at a middle share kept, then the shares that do with it."""
    middle = START_KEPT[1]
    shape = max(START_SHAPES, key=lambda one: model.value_and_slopes(_start(model, one, middle))[0])
    starts = [_start(model, shape, share) for share in (START_KEPT if len(model.free) else [middle])]
    return sorted(starts, key=lambda x: -model.value_and_slopes(x)[0])[:2]


def _start(model: Model, shape: float, share: float) -> np.ndarray:
    likelihood, kept = model.likelihood, np.where(np.isnan(model.held), share, model.held)
    hazard = likelihood.hazards(0.0, shape, likelihood.ages(kept))[1]
    at_risk = (hazard * (likelihood.weight - likelihood.late_weight)).sum()
    c = np.log(likelihood.failures.sum()) - np.log(max(at_risk, 1e-300))
    odds = [np.log(share / (1 - share))] * len(model.free)
    return np.array([c, np.log(shape), *odds, *[np.log(START_VARIANCE)] * model.has_variance])


def peaked(curvature: np.ndarray) -> np.ndarray:
    """Return the curvature made that of a peak: flat or rising directions are stiffened."""
    values, vectors = np.linalg.eigh(curvature)
    return (vectors * np.maximum(abs(values), 1e-3)) @ vectors.T


def climb(
    model: Model, start: np.ndarray, moving: np.ndarray, inverse: np.ndarray, *, steps: int = STEPS_AT_MOST
) -> tuple[np.ndarray, float, np.ndarray]:
    """Climb in the moving coordinates by quasi-Newton steps from an inverse curvature; return place, value, inverse."""
    from scipy.optimize import minimize

    x = start.copy()

    def down(part: np.ndarray) -> tuple[float, np.ndarray]:
        x[moving] = part
        value, slopes = model.value_and_slopes(x)
        return -value, -slopes[moving]

    # (an inverse that a climb along a narrow ridge brought along may have lost its smallest root to rounding)
    roots, directions = np.linalg.eigh((inverse + inverse.T) / 2)
    inverse = (directions * np.maximum(roots, 1e-12 * roots.max())) @ directions.T
    options = {"gtol": LEAST_SLOPE, "hess_inv0": (inverse + inverse.T) / 2, "maxiter": steps}
    found = minimize(down, start[moving], jac=True, method="BFGS", options=options)
    x[moving] = found.x
    return x, -float(found.fun), found.hess_inv


def ratio_limit(model: Model, top: Top, place: int, *, side: int, z: float, edge: float) -> float | None:
    """Return the coordinate on one side (−1, 1) where the profile has dropped by z²/2; None where not before ±edge.

    The root of twice the drop is nearly straight in the coordinate, so Newton's steps in it, kept between the distances
    known to be too short and too long, need few profiles.
    """
    others = np.delete(np.arange(model.size), place)
    curvature = peaked(top.curvature)
    inverse = np.linalg.inv(curvature[np.ix_(others, others)])
    tangent = -inverse @ curvature[others, place]
    error = min(1 / np.sqrt(curvature[place, place] + curvature[place, others] @ tangent), 1.5)
    last, middle = top.x.copy(), float(np.clip(top.x[place], -edge, edge))
    distance, short, long = z * error, 0.0, np.inf
    for _ in range(LIMIT_STEPS):
        at = float(np.clip(middle + side * distance, -edge, edge))
        start = last.copy()
        start[others] += np.clip(tangent * (at - last[place]), -3, 3)
        start[place] = at
        last, value, inverse = climb(model, start, others, inverse)
        root = float(np.sqrt(2 * max(top.value - value, 0.0)))
        if abs(root - z) < ROOT_TOLERANCE:
            return at
        if root < z and abs(at) >= edge:
            return None
        short, long = (distance, long) if root < z else (short, distance)
        pace = -side * model.value_and_slopes(last)[1][place] / root if root > 0 else 0.0
        ahead = distance + (z - root) / pace if pace > 0 else np.inf
        bound = min(long, 2 * distance + 0.1 * error)
        distance = ahead if short < ahead < bound else (short + long) / 2 if long < np.inf else bound
    return at
