"""Likelihood-ratio limits of a fit of lives: where the profile has dropped by z²/2.

For each quantity ψ (log β, the log time τ at which the line has some height y, or the height at some age) the rest of the
model is one nuisance ν. The signed root r = √(2(l_max − l_profile)) is nearly a straight line in ψ, so Newton on r = z
needs few steps; the nuisance climbs at the same time. All groups and all limits move together.
Source: Meeker & Escobar (1998), Statistical Methods for Reliability Data, section 8.2 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipelines.estimates.life_likelihood import Likelihood
from pipelines.estimates.life_maximum import Maximum

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


@dataclass(frozen=True)
class Targets:
    """What the columns of the search look for: log β, then log times at heights, then heights at log times; low, then high.

    height: y of the columns that look for a time; x: log time over the longest, (groups, columns), of those that look for
    a height; side: −1 for a low limit, 1 for a high one.
    """

    is_shape: np.ndarray
    is_height: np.ndarray
    height: np.ndarray
    x: np.ndarray
    side: np.ndarray

    @classmethod
    def of(cls, heights: Sequence[float], *, log_ages: np.ndarray, log_longest: np.ndarray) -> Targets:
        """Return the targets for log β, the times at these heights, and the heights at these log ages in clock units."""
        kinds = np.repeat([0, 1, 2], [2, 2 * len(heights), 2 * len(log_ages)])
        y = np.zeros(len(kinds))
        y[kinds == 1] = np.repeat(heights, 2)
        x = np.zeros((len(log_longest), len(kinds)))
        x[:, kinds == 2] = np.repeat(log_ages, 2) - log_longest[:, None]
        return cls(kinds == 0, kinds == 2, y, x, np.tile([-1.0, 1.0], len(kinds) // 2))

    def only(self, groups: np.ndarray) -> Targets:
        """Return the targets of some groups."""
        return Targets(self.is_shape, self.is_height, self.height, self.x[groups], self.side)

    def by_kind(self, shape: np.ndarray, time: np.ndarray, height: np.ndarray) -> np.ndarray:
        """Return for each column the array of its kind."""
        return np.where(self.is_shape, shape, np.where(self.is_height, height, time))

    def best(self, top: Maximum) -> np.ndarray:
        """Return the estimate of each ψ."""
        c, b = top.c[:, None], top.b[:, None]
        return self.by_kind(b, (self.height - c) / np.exp(b), c + np.exp(b) * self.x)


class Slopes(NamedTuple):
    """The likelihood along ψ and ν, by group and column."""

    value: np.ndarray
    psi: np.ndarray
    nu: np.ndarray
    psi_nu: np.ndarray
    nu_nu: np.ndarray


def ratio_limits(counts: Likelihood, top: Maximum, targets: Targets, *, z: float) -> np.ndarray:
    """Return the limits of each ψ, (groups, quantities, low and high); NaN marks a limit that is not reached.

    Times are logs over the group's longest time. z: the normal quantile of the level. Every group must have a maximum.
    """
    limits = np.full((counts.group_count, len(targets.side)), np.nan)
    half_width = 1.5 * z * np.sqrt(-top.cc / (top.cc * top.bb - top.cb**2))
    left = np.arange(counts.group_count)
    quick, is_sound = counts.quick(top.b, half_width)
    if is_sound.any():
        found, b = _search(quick, top, targets, z=z)
        is_inside = (abs(b - top.b[:, None]) <= half_width[:, None]).all(axis=1)
        is_good = is_sound & is_inside & np.isfinite(found).all(axis=1)
        limits[is_good] = found[is_good]
        left = np.flatnonzero(~is_good)
    if len(left):
        limits[left], _ = _search(counts.only(left), top.only(left), targets.only(left), z=z)
    return limits.reshape(len(limits), -1, 2)


def _search(counts: Likelihood, top: Maximum, targets: Targets, *, z: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the limits of ψ (NaN where not reached) and the log shape at each, (groups, columns)."""
    side = targets.side
    best, psi, nu, near_nu = _start(top, targets, z)
    near, far = np.zeros(psi.shape), np.full(psi.shape, np.inf)
    is_done = np.zeros(psi.shape, dtype=bool)
    is_beyond = np.zeros(psi.shape, dtype=bool)
    for _ in range(STEPS_AT_MOST):
        at = _slopes(counts, targets, psi, nu)
        ridge = _ridge(at)
        drop = 2 * (top.value[:, None] - at.value - np.where(ridge.is_near, ridge.to_gain, 0.0))
        root, distance = np.sqrt(np.maximum(drop, 0.0)), side * (psi - best)
        is_sure = ridge.is_near & ~is_done & (abs(root - z) > ridge.to_gain)
        is_inside, is_outside = is_sure & (root < z) & (distance > near), is_sure & (root > z)
        near, near_nu = np.where(is_inside, distance, near), np.where(is_inside, nu, near_nu)
        far = np.where(is_outside, np.minimum(far, distance), far)
        ahead, is_newton = _ahead(distance, root, side * ridge.slope, z, near, far)
        step_psi = np.where(ridge.is_near, side * (ahead - distance), 0.0)
        step_nu = ridge.step(step_psi, targets.is_shape)
        # Halfway starts from the nuisance last known inside: outside there may be another hill, level and endless.
        step_nu = np.where(ridge.is_near & ~is_newton, near_nu - nu, step_nu)
        # Where failures were only ever found at two or three ages the profile may jump: then the bracket closes in.
        is_met = (is_newton & (abs(root - z) < 1e-3) & (abs(step_nu) < 1e-4)) | (far - near < CLOSED / 1e3)
        is_beyond |= ~is_done & (near > FURTHEST)
        psi, nu = np.where(is_done, psi, psi + step_psi), np.where(is_done, nu, nu + step_nu)
        is_done |= (ridge.is_near & is_met & (abs(step_psi) < 1e-8)) | is_beyond
        if is_done.all():
            break
    psi = np.where(~is_done & (far - near < CLOSED), best + side * near, psi)
    found = np.where((is_done | (far - near < CLOSED)) & ~is_beyond, psi, np.nan)
    return found, np.where(targets.is_shape, psi, nu)


class Ridge(NamedTuple):
    """Where the nuisance stands below the profile: how far, the profile's slope, and the way up."""

    is_near: np.ndarray
    to_gain: np.ndarray
    slope: np.ndarray
    is_arched: np.ndarray
    up: np.ndarray
    turn: np.ndarray

    def step(self, step_psi: np.ndarray, is_shape: np.ndarray) -> np.ndarray:
        """Return the step of the nuisance that climbs and keeps up with a step in ψ."""
        step = np.where(self.is_arched, self.up + self.turn * step_psi, self.up)
        return np.where(is_shape, np.clip(step, -1.0, 1.0), np.log1p(np.clip(step, -0.6, 1.5)))


def _ridge(at: Slopes) -> Ridge:
    # On the way to a shape of 0 (or c of −∞) the likelihood levels out and has no peak to climb to.
    is_level = (abs(at.nu) < LEVEL) & (abs(at.nu_nu) < LEVEL)
    is_arched = (at.nu_nu < -FLAT) & ~is_level
    arch = np.where(is_arched, at.nu_nu, -1.0)
    to_gain = np.where(is_arched, -(at.nu**2) / arch / 2, np.where(is_level, abs(at.nu), np.inf))
    up = np.where(is_arched, -at.nu / arch, np.where(is_level, 0.0, 0.5 * np.sign(at.nu)))
    slope = at.psi - np.where(is_arched, at.psi_nu * at.nu / arch, 0.0)
    return Ridge(to_gain < NEAR_PROFILE, to_gain, slope, is_arched, up, -at.psi_nu / arch)


def _start(top: Maximum, targets: Targets, z: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return the estimate of ψ, ψ and ν at the ends of the ellipse of a quadratic likelihood, the estimate of ν."""
    determinant = top.cc * top.bb - top.cb**2
    var_c, var_b, cov = (part[:, None] for part in (-top.bb / determinant, -top.cc / determinant, top.cb / determinant))
    shape, best = top.shape[:, None], targets.best(top)
    lean = targets.by_kind(np.zeros_like(var_b), shape * best, shape * targets.x)
    along = var_c + 2 * lean * cov + lean**2 * var_b
    variance = targets.by_kind(var_b, along / shape**2, along)
    with_nuisance = targets.by_kind(cov, -(cov + lean * var_b) / shape, cov + lean * var_b)
    # The ellipse of a nearly flat likelihood reaches too far to start from.
    psi = best + targets.side * np.minimum(z * np.sqrt(variance), 3.0)
    best_nu = np.where(targets.is_shape, top.c[:, None], top.b[:, None])
    nu = best_nu + np.clip(with_nuisance / variance * (psi - best), -2.0, 2.0)
    return best, psi, nu, best_nu


def _slopes(counts: Likelihood, targets: Targets, psi: np.ndarray, nu: np.ndarray) -> Slopes:
    """Turn the slopes in (c, log β) into slopes in (ψ, ν), with c = height − β·(log time)."""
    is_shape = targets.is_shape
    b = np.clip(np.where(is_shape, psi, nu), -40.0, 20.0)
    shape = np.exp(b)
    lean = targets.by_kind(np.zeros_like(b), shape * psi, shape * targets.x)
    at = counts.surface(targets.by_kind(nu, targets.height - lean, psi - lean), shape)
    across = at.cb - lean * at.cc
    return Slopes(
        at.value,
        targets.by_kind(at.b, -shape * at.c, at.c),
        np.where(is_shape, at.c, at.b - lean * at.c),
        targets.by_kind(at.cb, -shape * (across + at.c), across),
        # In β itself, not its log, the likelihood along a fixed ψ is concave: Newton's step is safe there.
        np.where(is_shape, at.cc, at.bb - at.b - 2 * lean * at.cb + lean**2 * at.cc),
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
