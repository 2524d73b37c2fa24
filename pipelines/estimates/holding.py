"""How long cleans hold: the share of the cleans made that is still good after a horizon, with limits by draws."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.restoration_likelihood import Likelihood
from pipelines.estimates.restoration_maximum import EDGE, Model, Top, climb, peaked
from pipelines.vocabulary import Because

DRAWS = 400
#: Draws are worked out together as long as they have no more points of hazard than this.
LARGEST_BLOCK = 30_000


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
    drawn, rng = parameter_draws(model, top)
    size = max(1, LARGEST_BLOCK // len(likelihood.row))
    found = [
        _still_good(likelihood, rows, horizon, rng, *(one[start : start + size] for one in drawn))
        for start in range(0, DRAWS, size)
    ]
    found = np.vstack(found) / count
    found = np.clip(found, 1e-9, 1 - 1e-9)
    return np.log(found / (1 - found))


def _still_good(likelihood: Likelihood, rows, horizon: float, rng, c, shape, kept, variance) -> np.ndarray:
    """Return the expected number still good, (draws, kinds)."""
    gaps, draws = likelihood.gaps, np.arange(len(c))[:, None]
    ages = likelihood.ages(kept)
    weighted = likelihood.weight * likelihood.hazards(c, shape, ages)[1]
    at_risk = _summed(weighted, likelihood.point_cluster, gaps.cluster_count, draws)
    inverse, variance = 1 / variance[:, None], variance[:, None]
    factor = rng.standard_gamma(inverse + likelihood.failures) * variance / (1 + variance * at_risk)
    age, shape = ages[:, rows], shape[:, None]
    hazard = np.exp(c)[:, None] * ((age + horizon) ** shape - age**shape)
    return _summed(np.exp(-factor[:, gaps.cluster[rows]] * hazard), gaps.kind[rows], len(gaps.kinds), draws)


def _summed(values: np.ndarray, place: np.ndarray, size: int, draws: np.ndarray) -> np.ndarray:
    """Return the sums of the values (draws, rows) that share a place, (draws, size)."""
    total = np.bincount((draws * size + place).ravel(), weights=values.ravel(), minlength=len(draws) * size)
    return total.reshape(len(draws), size)


def parameter_draws(model: Model, top: Top) -> tuple[tuple[np.ndarray, ...], np.random.Generator]:
    """Return c, shape, shares kept and variance of each draw, and where the random numbers stand."""
    rng = np.random.default_rng(20)
    with_prior = Model(model.likelihood, model.held, model.has_variance, has_prior=True)
    start = top.x.copy()
    start[2:] = np.clip(start[2:], -EDGE / 2, EDGE / 2)
    inverse = np.linalg.inv(peaked(with_prior.curvature(start, is_rough=True)))
    middle, _, _ = climb(with_prior, start, np.arange(model.size), inverse)
    spread = np.linalg.cholesky(np.linalg.inv(peaked(with_prior.curvature(middle))))
    c, shape, kept, variance = with_prior.natural(middle + rng.standard_normal((DRAWS, model.size)) @ spread.T)
    return (c, shape, kept, np.maximum(variance, 1e-9)), rng
