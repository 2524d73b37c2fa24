"""The maximum of the likelihood of lives (Weibull or lognormal): a damped Newton climb of all groups at once."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from pipelines.estimates.life_likelihood import Likelihood, Surface

#: The step is quadratic near the top: after one this small the error is the rounding error.
SMALL_STEP = 3e-8
STEPS_AT_MOST = 40
#: A shape beyond these says that the data fix no shape, not that sticks are so.
LEAST_SHAPE, LARGEST_SHAPE = 1e-3, 1e5
#: Standard error of log shape beyond which the top is a ridge.
WIDEST_ERROR = 20.0
#: Second tries, as multiples of the first start's shape.
OTHER_STARTS = (0.3, 3.0, 0.1, 10.0)


@dataclass(frozen=True)
class Maximum:
    """By group: c, b = log shape (log β), the log-likelihood there (without its constant), its curvature, and if it holds."""

    c: np.ndarray
    b: np.ndarray
    value: np.ndarray
    cc: np.ndarray
    cb: np.ndarray
    bb: np.ndarray
    is_found: np.ndarray

    @property
    def shape(self) -> np.ndarray:
        return np.exp(self.b)

    def only(self, groups: np.ndarray) -> Maximum:
        """Return the maxima of some groups."""
        return Maximum(*(getattr(self, field.name)[groups] for field in fields(self)))


def maximum(counts: Likelihood) -> Maximum:
    """Climb from a start by moments; where entry meets intervals, from the fit that ignores the entries.

    That likelihood can have no top far from the data, and a careless start runs away there. Groups that fail are tried
    again from other shapes.
    """
    c, b = counts.start(np.ones(counts.group_count))
    if len(counts.intervals.count) and counts.has_entry.any():
        blind = counts.without_entries()
        rough = _climb(blind, *blind.start(np.ones(counts.group_count)), small_step=1e-3)
        c, b = np.where(rough.is_found, rough.c, c), np.where(rough.is_found, rough.b, b)
    best = _climb(counts, c, b)
    for factor in OTHER_STARTS:
        lost = np.flatnonzero(~best.is_found)
        if not len(lost):
            break
        fewer = counts.only(lost)
        best = _mended(best, lost, _climb(fewer, *fewer.start(np.full(len(lost), factor))))
    return best


def _mended(best: Maximum, lost: np.ndarray, again: Maximum) -> Maximum:
    columns = {field.name: getattr(best, field.name).copy() for field in fields(best)}
    for name, column in columns.items():
        column[lost[again.is_found]] = getattr(again, name)[again.is_found]
    return Maximum(**columns)


def _climb(counts: Likelihood, c: np.ndarray, b: np.ndarray, *, small_step: float = SMALL_STEP) -> Maximum:
    """Climb by Newton steps in (c, log shape), halved wherever the likelihood would fall."""
    here = _at(counts, c, b)
    is_done = np.zeros(len(c), dtype=bool)
    step_c, step_b, is_peaked = _newton_step(here)
    scale = np.ones(len(c))
    for _ in range(STEPS_AT_MOST):
        is_small = np.maximum(abs(step_c), abs(step_b)) < small_step
        is_done |= is_small & is_peaked & (scale == 1)
        is_lost = (scale < 1e-9) | (b < np.log(LEAST_SHAPE)) | (b > np.log(LARGEST_SHAPE))
        if (is_done | is_lost).all():
            break
        moving = np.where(is_done, 0.0, scale)
        there = _at(counts, c + moving * step_c, b + moving * step_b)
        is_up = there.value >= here.value - 1e-11 * np.maximum(abs(here.value), 1.0)
        c, b = np.where(is_up, c + moving * step_c, c), np.where(is_up, b + moving * step_b, b)
        here = Surface(*(np.where(is_up, new, old) for new, old in zip(there, here, strict=True)))
        step_c, step_b, is_peaked = _newton_step(here)
        scale = np.where(is_up, 1.0, scale / 2)
    # The last step is too small to need the likelihood once more.
    last = np.where(is_done, 1.0, 0.0)
    c, b = c + last * step_c, b + last * step_b
    value = here.value + last * (here.c * step_c + here.b * step_b) / 2
    return Maximum(c, b, value, here.cc, here.cb, here.bb, is_done & _is_fixed(here, b))


def _at(counts: Likelihood, c: np.ndarray, b: np.ndarray) -> Surface:
    found = counts.surface(c[:, None], np.exp(b)[:, None])
    return Surface(*(part[:, 0] for part in found))


def _newton_step(at: Surface) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the step and whether the surface is peaked there; where not, the curvature is stiffened first."""
    least = (-(at.cc + at.bb) - np.sqrt((at.cc - at.bb) ** 2 + 4 * at.cb**2)) / 2
    is_peaked = least > 0
    stiffening = np.where(is_peaked, 0.0, -least + 0.1 * (abs(at.cc) + abs(at.bb)) + 1e-12)
    cc, cb, bb = stiffening - at.cc, -at.cb, stiffening - at.bb
    determinant = np.maximum(cc * bb - cb**2, 1e-300)
    step_c, step_b = (bb * at.c - cb * at.b) / determinant, (cc * at.b - cb * at.c) / determinant
    # No more than a factor 2.7 in the shape in one step: the quadratic is not to be trusted further.
    cap = 1 / np.maximum(np.maximum(abs(step_b), abs(step_c) / 4), 1.0)
    return step_c * cap, step_b * cap, is_peaked


def _is_fixed(at: Surface, b: np.ndarray) -> np.ndarray:
    """Say where the data fix the shape: a peak that is no ridge, at a shape that is one."""
    determinant = at.cc * at.bb - at.cb**2
    is_inside = (b > np.log(LEAST_SHAPE)) & (b < np.log(LARGEST_SHAPE))
    return is_inside & (determinant > 0) & (-at.cc < WIDEST_ERROR**2 * determinant)
