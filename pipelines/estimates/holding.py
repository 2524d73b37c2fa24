"""How long cleans hold: the share of the cleans made that is still good after a horizon, with limits by draws."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.restoration_maximum import EDGE, Model, Top, climb, peaked
from pipelines.vocabulary import Because

DRAWS = 400


def holding_shares(model: Model, top: Top, *, horizon: float, level: float) -> list[Estimate]:
    """Return for each kind of clean the share of its watched cleans that is still good at the horizon.

    model, top: without prior, as climbed; horizon: in the gaps' unit. The fit's parameters are drawn from the normal
    distribution about the top with a weak prior (log-odds of the share of age kept: mean 0, SD 1.8), each controller's
    factor from what its own record leaves of it; limits are those of a normal log-odds of the share, from the draws,
    the same at each call. A horizon beyond the longest watch after such a clean, or no clean: `no_follow_up`.
    """
    z = normal_quantile(level)
    gaps = model.likelihood.gaps
    rows = np.flatnonzero(gaps.is_seen & (gaps.kind >= 0))
    longest = np.zeros(len(gaps.kinds))
    np.maximum.at(longest, gaps.kind[rows], gaps.length[rows])
    odds = _drawn_odds(model, top, rows, horizon / gaps.unit)
    middle, error = odds.mean(axis=0), odds.std(axis=0, ddof=1)
    ends = 1 / (1 + np.exp(-np.array([middle, middle - z * error, middle + z * error])))
    return [
        Estimate.within(*(float(end) for end in ends[:, kind]))
        if horizon / gaps.unit <= longest[kind] and longest[kind] > 0
        else Estimate.refused(Because.NO_FOLLOW_UP)
        for kind in range(len(gaps.kinds))
    ]


def _drawn_odds(model: Model, top: Top, rows: np.ndarray, horizon: float) -> np.ndarray:
    """Return the log-odds of the share still good, (draws, kinds)."""
    likelihood = model.likelihood
    gaps = likelihood.gaps
    count = np.maximum(np.bincount(gaps.kind[rows], minlength=len(gaps.kinds)), 1)
    found = np.empty((DRAWS, len(gaps.kinds)))
    rng = np.random.default_rng(20)
    for number, (c, shape, kept, variance) in enumerate(_draws(model, top, rng)):
        at_risk = likelihood.sums(likelihood.hazards(c, shape, kept)[1], likelihood.weight)
        factor = rng.standard_gamma(1 / variance + likelihood.failures) * variance / (1 + variance * at_risk)
        age = likelihood.ages(kept)[rows]
        hazard = np.exp(c) * ((age + horizon) ** shape - age**shape)
        still_good = np.exp(-factor[gaps.cluster[rows]] * hazard)
        found[number] = np.bincount(gaps.kind[rows], weights=still_good, minlength=len(gaps.kinds)) / count
    found = np.clip(found, 1e-9, 1 - 1e-9)
    return np.log(found / (1 - found))


def _draws(model: Model, top: Top, rng: np.random.Generator):
    """Yield c, shape, shares kept and variance of each draw."""
    with_prior = Model(model.likelihood, model.held, model.has_variance, has_prior=True)
    start = top.x.copy()
    start[2:] = np.clip(start[2:], -EDGE / 2, EDGE / 2)
    inverse = np.linalg.inv(peaked(with_prior.curvature(start)))
    middle, _, _ = climb(with_prior, start, np.arange(model.size), inverse)
    spread = np.linalg.cholesky(np.linalg.inv(peaked(with_prior.curvature(middle))))
    c, shape, kept, variance = with_prior.natural(middle + rng.standard_normal((DRAWS, model.size)) @ spread.T)
    return zip(c, shape, kept, np.maximum(variance, 1e-9), strict=True)
