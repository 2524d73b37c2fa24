"""Whether the fitted law of ages holds after cleans: a score test against a law of their own."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.restoration_gaps import Gaps
from pipelines.estimates.restoration_likelihood import SMALLEST_AGE, Likelihood, Slopes
from pipelines.estimates.restoration_maximum import Model, Top, peaked
from pipelines.estimates.weibull_likelihood import hazard_of

#: Soon is up to this share of the median of the watched lengths after cleans.
SOON_SHARE = 0.25
#: Step of the differences, in every coordinate.
STEP = 1e-2
#: Directions in which the departures are known this little, against the best known one, are left out.
LEAST_KNOWN = 1e-3


def fit_p(model: Model, top: Top) -> float:
    """Return the p-value that after cleans drift follows the law of the fit: low where it follows one of its own.

    model, top: as climbed. Score test of three departures at once, the other parameters free: after cleans drift is so
    many times as frequent, depends on age by another shape, and is so many times as frequent soon after the clean (a cause
    not removed, which is back at once).   Source: Rao (1948) (from memory); the level was checked by simulation.
    """
    from scipy.stats import chi2

    own = _OwnLaw(model.likelihood.gaps, model.likelihood.is_whole)
    free = Model(own, model.held, model.has_variance)
    steps = STEP * np.eye(3 + model.size)

    def value(place: np.ndarray) -> float:
        own.departure = place[:3]
        return free.value_and_slopes(top.x + place[3:])[0]

    middle = value(np.zeros(len(steps)))
    ahead, behind = (np.array([value(side * step) for step in steps]) for side in (1, -1))

    def bend(one: int, other: int) -> float:
        if one == other:
            return (2 * middle - ahead[one] - behind[one]) / STEP**2
        both = value(steps[one] + steps[other]) + value(-steps[one] - steps[other])
        return (ahead[one] + ahead[other] + behind[one] + behind[other] - 2 * middle - both) / (2 * STEP**2)

    score = (ahead - behind)[:3] / (2 * STEP)
    bends = np.array([[bend(one, other) if other >= one else 0.0 for other in range(len(steps))] for one in range(3)])
    inner, shared = bends[:, :3] + np.triu(bends[:, :3], 1).T, bends[:, 3:]
    information = inner - shared @ np.linalg.solve(peaked(top.curvature), shared.T)
    known, directions = np.linalg.eigh((information + information.T) / 2)
    is_known = known > LEAST_KNOWN * max(known.max(), 1.0)
    return float(chi2.sf(((directions.T @ score)[is_known] ** 2 / known[is_known]).sum(), max(is_known.sum(), 1)))


class _OwnLaw(Likelihood):
    """The likelihood with departures after cleans: log ratio, shape more, log ratio soon after. Only its value is right."""

    def __init__(self, gaps: Gaps, is_whole: np.ndarray) -> None:
        super().__init__(gaps, is_whole)
        self.departure = np.zeros(3)
        self.until = SOON_SHARE * np.median(gaps.length[gaps.is_seen & (gaps.kind >= 0)])
        self.is_after = gaps.kind[self.row] >= 0

    def hazards(self, c, shape, age) -> tuple[np.ndarray, np.ndarray]:
        ratio, more, soon_ratio = self.departure
        start = age[self.row]
        log_age = np.log(np.maximum(start + self.since, SMALLEST_AGE))
        own_c, own_shape = c + ratio * self.is_after, shape + more * self.is_after
        soon = np.exp(own_c) * ((start + np.minimum(self.since, self.until)) ** own_shape - start**own_shape)
        return log_age, hazard_of(own_c + own_shape * log_age) + np.expm1(soon_ratio) * soon * self.is_after

    def slopes(self, c, shape, kept, variance) -> Slopes:
        found = super().slopes(c, shape, kept, variance)
        ratio, more, soon_ratio = self.departure
        points = self.exact_point[self.is_after[self.exact_point]]
        log_age = np.log(np.maximum(self.ages(kept)[self.row[points]] + self.since[points], SMALLEST_AGE))
        value = len(points) * (ratio + np.log1p(more / shape)) + more * log_age.sum()
        return found._replace(value=found.value + value + soon_ratio * (self.since[points] <= self.until).sum())
