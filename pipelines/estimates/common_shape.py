"""Is one Weibull shape for all families plausible? The likelihood ratio of a shape each against one for all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.estimates.life_likelihood import Surface
from pipelines.estimates.life_maximum import Maximum, maximum
from pipelines.estimates.lives import LifeSpells
from pipelines.estimates.weibull_likelihood import WeibullCounts
from pipelines.vocabulary import Because

#: Below this chance of so large a ratio, one shape for all is not plausible.
PLAUSIBLE = 0.01
SMALL_STEP = 1e-7
STEPS_AT_MOST = 100


@dataclass(frozen=True)
class CommonShape:
    """families: how many could be compared; ratio: twice the log of the likelihood ratio; p: the chance of a larger one.

    is_plausible is None, and `because` says why, where fewer than two families have failures enough for a shape.
    """

    families: int
    ratio: float | None
    degrees_of_freedom: int
    p: float | None
    is_plausible: bool | None
    because: Because | None = None


def common_shape(spells: LifeSpells, *, min_failures: int) -> CommonShape:
    """Compare the Weibull fits of each family with those that share one shape, each with its own scale.

    spells: checked; only families with `min_failures` and a fit count.
    Method: likelihood ratio, chi-squared with one degree of freedom less than families. With few failures a family it is
    too large by up to 1 + 2/failures, so it is divided by that before it is judged (seen in simulation).
    """
    from scipy.stats import chi2

    enough = np.flatnonzero(spells.failures >= max(min_failures, 1))
    counts, top = _fitted(spells, enough)
    found = np.flatnonzero(top.is_found) if len(enough) else enough
    if len(found) < 2:
        return CommonShape(len(found), None, 0, None, None, Because.TOO_FEW_FAILURES)
    value = _value_at_one_shape(counts.only(found), top.only(found))
    freedom = len(found) - 1
    ratio = max(2 * float(top.value[found].sum() - value), 0.0)
    # A family with more failures weighs the same in the ratio, so the plain mean of 1/failures is meant.
    stretch = 1 + 2 * float((1 / spells.failures[enough][found]).mean())
    p = float(chi2.sf(ratio / stretch, freedom))
    return CommonShape(len(found), ratio, freedom, p, p >= PLAUSIBLE)


def _fitted(spells: LifeSpells, groups: np.ndarray) -> tuple[WeibullCounts | None, Maximum | None]:
    if not len(groups):
        return None, None
    place = np.full(spells.groups.count, -1)
    place[groups] = np.arange(len(groups))
    code, entry_code = (place[one] for one in spells.groups.codes)
    mine, ours = code >= 0, entry_code >= 0
    counts = WeibullCounts.of(
        code[mine],
        spells.lower[mine],
        spells.upper[mine],
        spells.count[mine],
        entry_code[ours],
        spells.entry[ours],
        spells.entry_count[ours],
        group_count=len(groups),
    )
    return counts, maximum(counts)


def _value_at_one_shape(counts: WeibullCounts, top: Maximum) -> float:
    """Return the greatest log-likelihood with one shape: Newton's steps in all heights c and the one log shape together."""
    information = top.cb**2 / top.cc - top.bb
    b = float((information * top.b).sum() / information.sum())
    # c is the log hazard at the longest time: a steep separate fit may hold one far out of reach of the common shape.
    c = np.minimum(top.c, np.log(counts.exact + counts.intervals.segments.sum(counts.intervals.count)))
    value, scale = -np.inf, 1.0
    step_c, step_b = np.zeros(len(c)), 0.0
    for _ in range(STEPS_AT_MOST):
        next_c, next_b = c + scale * step_c, b + scale * step_b
        at = Surface(*(part[:, 0] for part in counts.surface(next_c[:, None], np.full((len(c), 1), np.exp(next_b)))))
        if at.value.sum() < value - 1e-11 * abs(value):
            scale /= 2
            continue
        c, b, value, scale = next_c, next_b, float(at.value.sum()), 1.0
        cc = np.minimum(at.cc, -1e-12)
        bend = -(at.bb - at.cb**2 / cc).sum()
        step_b = float((at.b - at.cb * at.c / cc).sum() / max(bend, 1e-12))
        step_c = -(at.c + at.cb * step_b) / cc
        # No more than a factor 1.6 in the shape or 20 in a hazard in one step.
        cap = 1 / max(1.0, abs(step_b) / 0.5, abs(step_c).max() / 3)
        step_b, step_c = cap * step_b, cap * step_c
        if max(abs(step_b), abs(step_c).max()) < SMALL_STEP:
            break
    return value
