"""Likelihood-ratio limits of a Weibull fit: where the profile has dropped by z²/2.

For each quantity ψ (log shape, or the log time τ by which a share has failed) the rest of the model is one nuisance ν.
The signed root r = √(2(l_max − l_profile)) is nearly a straight line in ψ, so Newton on r = z needs few steps; the
nuisance climbs at the same time. All groups and all limits move together.
Source: Meeker & Escobar (1998), Statistical Methods for Reliability Data, section 8.2 (from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pipelines.estimates.weibull_likelihood import (
    AtRisk,
    Counts,
    Exposure,
    Moments,
    hazard_of,
    only,
    surface,
)
from pipelines.estimates.weibull_maximum import Maximum

#: −log of the share that survives the time: 1 at the scale, then 10 % and 50 % failed.
SCALE, B10, MEDIAN = 1.0, -np.log(0.9), np.log(2.0)
#: Columns of the search: shape, scale, B10, median, each low then high.
LOG_HAZARD = np.log(np.repeat([1.0, SCALE, B10, MEDIAN], 2))
IS_SHAPE = np.repeat([True, False, False, False], 2)
SIDE = np.tile([-1.0, 1.0], 4)

#: A limit further than this factor from its estimate counts as not reached.
FURTHEST = np.log(1e12)
STEPS_AT_MOST = 200
#: Curvature under which the nuisance is flat: no Newton step for it.
FLAT = 1e-9
#: Slope under which what is left to gain does not matter.
LEVEL = 1e-6
#: A bracket this narrow that has not met z holds a jump of the profile, and the jump is the limit.
CLOSED = 1e-6
#: The profile is known well enough to move ψ when the nuisance could add no more than this to the likelihood.
NEAR_PROFILE = 0.05


class Slopes(NamedTuple):
    """The likelihood along ψ and ν, by group and column."""

    value: np.ndarray
    psi: np.ndarray
    nu: np.ndarray
    psi_nu: np.ndarray
    nu_nu: np.ndarray


class Tabulated:
    """The exposure's moments from ten sums: log M is a polynomial in log shape over a narrow enough range.

    The eight limits of a group would need some forty sums. `is_sound` tells in which groups the polynomial is exact to
    about twelve digits: narrow ranges, that is many failures.
    Chebyshev interpolation: Trefethen, Approximation Theory and Approximation Practice (from memory).
    """

    POINTS = 10

    def __init__(self, exposure: Exposure, middle: np.ndarray, half_width: np.ndarray) -> None:
        angle = (np.arange(self.POINTS) + 0.5) * np.pi / self.POINTS
        self._order = np.arange(self.POINTS)
        self._middle, self._half_width = middle[:, None], half_width[:, None]
        sums = np.column_stack([exposure.total(np.exp(middle + half_width * np.cos(one))) for one in angle])
        is_positive = (sums > 0).all(axis=1)
        sums[~is_positive] = 1.0
        weights = np.where(self._order == 0, 1, 2)[:, None] * np.cos(np.outer(self._order, angle)) / self.POINTS
        self._value = np.log(sums) @ weights.T
        self._slope = np.polynomial.chebyshev.chebder(self._value, axis=1) / self._half_width
        self._bend = np.polynomial.chebyshev.chebder(self._slope, axis=1) / self._half_width
        self.is_sound = is_positive & (abs(self._value[:, -2:]).max(axis=1) < 1e-12)

    def holds(self, b: np.ndarray) -> np.ndarray:
        """Say in which groups every one of these log shapes lies inside the range."""
        return (abs(b - self._middle) <= self._half_width).all(axis=1)

    def moments(self, c: np.ndarray, shape: np.ndarray) -> Moments:
        y = np.clip((np.log(shape) - self._middle) / self._half_width, -1, 1)
        waves = np.cos(self._order * np.arccos(y)[:, :, None])
        value, slope, bend = (
            np.einsum("gsk,gk->gs", waves[:, :, : table.shape[1]], table) for table in (self._value, self._slope, self._bend)
        )
        total = hazard_of(c + value)
        return Moments(total, total * slope / shape, total * (slope**2 + bend - slope) / shape**2)


def ratio_limits(counts: Counts, top: Maximum, *, z: float) -> np.ndarray:
    """Return log limits (groups, 4 quantities, low and high); NaN marks a limit that is not reached.

    The quantities are shape, scale, B10 and median; times are logs over the group's longest time.
    z: the normal quantile of the level. Every group must have a maximum.
    """
    limits = np.full((counts.group_count, len(SIDE)), np.nan)
    error = np.sqrt(-top.cc / (top.cc * top.bb - top.cb**2))
    table = Tabulated(counts.exposure, top.b, 1.5 * z * error)
    left = np.arange(counts.group_count)
    if table.is_sound.any():
        found, b = _search(counts, top, z=z, at_risk=table)
        is_good = table.is_sound & table.holds(b) & np.isfinite(found).all(axis=1)
        limits[is_good] = found[is_good]
        left = np.flatnonzero(~is_good)
    if len(left):
        limits[left], _ = _search(only(counts, left), top.only(left), z=z, at_risk=None)
    return limits.reshape(-1, 4, 2)


def _search(counts: Counts, top: Maximum, *, z: float, at_risk: AtRisk | None) -> tuple[np.ndarray, np.ndarray]:
    """Return the limits of ψ (NaN where not reached) and the log shape at each, (groups, columns)."""
    best, psi, nu, near_nu = _start(top, z)
    near, far = np.zeros(psi.shape), np.full(psi.shape, np.inf)
    is_done = np.zeros(psi.shape, dtype=bool)
    is_beyond = np.zeros(psi.shape, dtype=bool)
    for _ in range(STEPS_AT_MOST):
        at = _slopes(counts, psi, nu, at_risk)
        ridge = _ridge(at)
        drop = 2 * (top.value[:, None] - at.value - np.where(ridge.is_near, ridge.to_gain, 0.0))
        root, distance = np.sqrt(np.maximum(drop, 0.0)), SIDE * (psi - best)
        is_sure = ridge.is_near & ~is_done & (abs(root - z) > ridge.to_gain)
        is_inside, is_outside = is_sure & (root < z) & (distance > near), is_sure & (root > z)
        near, near_nu = np.where(is_inside, distance, near), np.where(is_inside, nu, near_nu)
        far = np.where(is_outside, np.minimum(far, distance), far)
        ahead, is_newton = _ahead(distance, root, SIDE * ridge.slope, z, near, far)
        step_psi = np.where(ridge.is_near, SIDE * (ahead - distance), 0.0)
        step_nu = ridge.step(step_psi)
        # Halfway starts from the nuisance last known inside: outside there may be another hill, level and endless.
        step_nu = np.where(ridge.is_near & ~is_newton, near_nu - nu, step_nu)
        # Where failures were only ever found at two or three ages the profile may jump: then the bracket closes in.
        is_met = (is_newton & (abs(root - z) < 1e-3) & (abs(step_nu) < 1e-4)) | (far - near < CLOSED / 1e3)
        is_beyond |= ~is_done & (near > FURTHEST)
        psi, nu = np.where(is_done, psi, psi + step_psi), np.where(is_done, nu, nu + step_nu)
        is_done |= (ridge.is_near & is_met & (abs(step_psi) < 1e-8)) | is_beyond
        if is_done.all():
            break
    psi = np.where(~is_done & (far - near < CLOSED), best + SIDE * near, psi)
    found = np.where((is_done | (far - near < CLOSED)) & ~is_beyond, psi, np.nan)
    return found, np.where(IS_SHAPE, psi, nu)


class Ridge(NamedTuple):
    """Where the nuisance stands below the profile: how far, the profile's slope, and the way up."""

    is_near: np.ndarray
    to_gain: np.ndarray
    slope: np.ndarray
    is_arched: np.ndarray
    up: np.ndarray
    turn: np.ndarray

    def step(self, step_psi: np.ndarray) -> np.ndarray:
        """Return the step of the nuisance that climbs and keeps up with a step in ψ."""
        step = np.where(self.is_arched, self.up + self.turn * step_psi, self.up)
        return np.where(IS_SHAPE, np.clip(step, -1.0, 1.0), np.log1p(np.clip(step, -0.6, 1.5)))


def _ridge(at: Slopes) -> Ridge:
    # On the way to a shape of 0 (or c of −∞) the likelihood levels out and has no peak to climb to.
    is_level = (abs(at.nu) < LEVEL) & (abs(at.nu_nu) < LEVEL)
    is_arched = (at.nu_nu < -FLAT) & ~is_level
    arch = np.where(is_arched, at.nu_nu, -1.0)
    to_gain = np.where(is_arched, -(at.nu**2) / arch / 2, np.where(is_level, abs(at.nu), np.inf))
    up = np.where(is_arched, -at.nu / arch, np.where(is_level, 0.0, 0.5 * np.sign(at.nu)))
    slope = at.psi - np.where(is_arched, at.psi_nu * at.nu / arch, 0.0)
    return Ridge(to_gain < NEAR_PROFILE, to_gain, slope, is_arched, up, -at.psi_nu / arch)


def _start(top: Maximum, z: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return the estimate of ψ, ψ and ν at the ends of the ellipse of a quadratic likelihood, the estimate of ν."""
    determinant = top.cc * top.bb - top.cb**2
    var_c, var_b, cov = (part[:, None] for part in (-top.bb / determinant, -top.cc / determinant, top.cb / determinant))
    c, b, shape = top.c[:, None], top.b[:, None], top.shape[:, None]
    tau = (LOG_HAZARD - c) / shape
    best = np.where(IS_SHAPE, b, tau)
    variance = np.where(IS_SHAPE, var_b, var_c / shape**2 + 2 * tau * cov / shape + tau**2 * var_b)
    with_nuisance = np.where(IS_SHAPE, cov, -cov / shape - tau * var_b)
    # The ellipse of a nearly flat likelihood reaches too far to start from.
    psi = best + SIDE * np.minimum(z * np.sqrt(variance), 3.0)
    best_nu = np.where(IS_SHAPE, c, b)
    nu = best_nu + np.clip(with_nuisance / variance * (psi - best), -2.0, 2.0)
    return best, psi, nu, best_nu


def _slopes(counts: Counts, psi: np.ndarray, nu: np.ndarray, at_risk: AtRisk | None) -> Slopes:
    """Turn the slopes in (c, log shape) into slopes in (ψ, ν), with c = log hazard − shape·τ for a time τ."""
    b = np.clip(np.where(IS_SHAPE, psi, nu), -40.0, 20.0)
    shape = np.exp(b)
    lean = np.where(IS_SHAPE, 0.0, shape * psi)
    at = surface(counts, np.where(IS_SHAPE, nu, LOG_HAZARD - lean), shape, at_risk=at_risk)
    return Slopes(
        at.value,
        np.where(IS_SHAPE, at.b, -shape * at.c),
        np.where(IS_SHAPE, at.c, at.b - lean * at.c),
        np.where(IS_SHAPE, at.cb, -shape * (at.cb - lean * at.cc + at.c)),
        # In the shape itself, not its log, the likelihood along a fixed τ is concave: Newton's step is safe there.
        np.where(IS_SHAPE, at.cc, at.bb - at.b - 2 * lean * at.cb + lean**2 * at.cc),
    )


def _ahead(
    distance: np.ndarray, root: np.ndarray, fall: np.ndarray, z: float, near: np.ndarray, far: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the next distance from the estimate: Newton on the root, halfway where that leaves what is known.

    Also returns where it is Newton's.
    """
    is_falling = (fall < 0) & (root > 0)
    newton = distance + (z - root) * root / np.where(is_falling, -fall, 1.0)
    newton = np.where(is_falling, np.minimum(newton, 4 * distance), -1.0)
    is_bounded = np.isfinite(far)
    halfway = np.where(is_bounded, (near + np.where(is_bounded, far, 0.0)) / 2, 2 * distance)
    # A hair outside is rounding, at the limit itself.
    is_newton = (newton >= near - 1e-7) & (newton <= far + 1e-7)
    return np.where(is_newton, newton, halfway), is_newton
