"""Whether the fitted law of ages holds soon after cleans: a score test of failures against what the fit expects."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.restoration_gaps import Gaps
from pipelines.estimates.restoration_likelihood import Likelihood, Slopes
from pipelines.estimates.restoration_maximum import Model, Top, peaked

#: Soon is up to this share of the median of the watched lengths after cleans.
SOON_SHARE = 0.25
#: Steps of the differences, in the log ratio and in the coordinates of the fit.
RATIO_STEP, STEP = 1e-2, 1e-3


def early_ratio(model: Model, top: Top, *, z: float) -> Estimate:
    """Return the failures soon after cleans over those that the fit expects, with limits for z; 1 is a fit that holds.

    model, top: as climbed. One step of the score from a ratio of 1, the other parameters free: limits without 1 say that
    the law of ages is wrong there, be it that a cause not removed comes back at once, or that a clean resets only part
    of what fails.   Source: Rao (1948) for the test (from memory).
    """
    soon = _Soon(model.likelihood.gaps, model.likelihood.is_whole)
    free = Model(soon, model.held, model.has_variance)

    def value(ratio: float, x: np.ndarray) -> float:
        soon.log_ratio = ratio
        return free.value_and_slopes(x)[0]

    up, down = value(RATIO_STEP, top.x), value(-RATIO_STEP, top.x)
    score, own = (up - down) / (2 * RATIO_STEP), (2 * value(0.0, top.x) - up - down) / RATIO_STEP**2
    shared = np.array([
        sum(-side * turn * value(side * RATIO_STEP, top.x + turn * step) for side in (-1, 1) for turn in (-1, 1))
        for step in STEP * np.eye(model.size)
    ]) / (4 * RATIO_STEP * STEP)  # fmt: skip
    information = own - shared @ np.linalg.solve(peaked(top.curvature), shared)
    if not information > 0:
        return Estimate.within(1.0, None, None)
    middle, error = score / information, 1 / np.sqrt(information)
    return Estimate.within(*(float(np.exp(np.clip(middle + side * z * error, -50, 50))) for side in (0, -1, 1)))


class _Soon(Likelihood):
    """The likelihood in which the hazard soon after a clean is exp(log_ratio) times that of the law; slopes are not kept."""

    def __init__(self, gaps: Gaps, is_whole: np.ndarray) -> None:
        super().__init__(gaps, is_whole)
        self.log_ratio = 0.0
        self.until = SOON_SHARE * np.median(gaps.length[gaps.is_seen & (gaps.kind >= 0)])
        self.is_after = gaps.kind[self.row] >= 0

    def hazards(self, c, shape, age) -> tuple[np.ndarray, np.ndarray]:
        log_age, hazard = super().hazards(c, shape, age)
        start = age[self.row]
        soon = np.exp(c) * ((start + np.minimum(self.since, self.until)) ** shape - start**shape)
        return log_age, hazard + np.where(self.is_after, np.expm1(self.log_ratio) * soon, 0.0)

    def slopes(self, c, shape, kept, variance) -> Slopes:
        found = super().slopes(c, shape, kept, variance)
        is_soon = self.is_after[self.exact_point] & (self.since[self.exact_point] <= self.until)
        return found._replace(value=found.value + self.log_ratio * is_soon.sum())
