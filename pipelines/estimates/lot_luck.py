"""How far a lot's luck goes together: a lot that is worse at one stage of its fates tends to be worse at the others.

The luck of a lot at each stage is a standard normal variable; any two of them have one correlation, which is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipelines.estimates.grid import drawn_nodes, shares

#: Independent, and from hardly to all one.
CORRELATIONS = np.append(0.0, (np.arange(20) + 0.5) / 20)
#: Before the record speaks: independent with one half, the others alike.
PRIOR = np.append(0.5, np.full(20, 0.5 / 20))


@dataclass(frozen=True)
class LotLuck:
    """What the record tells of the luck of each lot at one stage: posterior mean and variance (before it: 0 and 1).

    lots: their names, no two alike.
    """

    lots: np.ndarray
    mean: np.ndarray
    variance: np.ndarray


@dataclass(frozen=True)
class SharedLuck:
    """The posterior weight of each of `CORRELATIONS`, for a number of stages."""

    stages: int
    weight: np.ndarray

    @property
    def correlation(self) -> float:
        """The posterior mean of the correlation."""
        return float(self.weight @ CORRELATIONS)

    def correlations(self, count: int, rng: np.random.Generator) -> np.ndarray:
        """Return draws of the correlation, (count,)."""
        return rng.permutation(CORRELATIONS[drawn_nodes(self.weight, count)])

    def draws(self, count: int, rng: np.random.Generator) -> np.ndarray:
        """Return draws of the luck of a new lot, (count, stages)."""
        correlation = self.correlations(count, rng)[:, None]
        common, own = rng.standard_normal((count, 1)), rng.standard_normal((count, self.stages))
        return np.sqrt(correlation) * common + np.sqrt(1 - correlation) * own


def shared_luck(stages: Sequence[LotLuck]) -> SharedLuck:
    """Estimate the correlation between the stages' luck from what each tells of its lots; a lot may be missing from some.

    Method: the stages' posteriors were found as if their luck were independent. The evidence of another correlation is the
    expectation, under them, of its prior of the luck over that of independence; it is 1 where nothing is known of the luck.
    Lots are taken one by one: what they all share is in the variance of each.
    """
    lots = np.unique(np.concatenate([one.lots for one in stages]))
    mean, variance = np.zeros((len(lots), len(stages))), np.ones((len(lots), len(stages)))
    for number, one in enumerate(stages):
        at = np.searchsorted(lots, one.lots)
        # A mixture of normal distributions may be a little wider than any of them; luck is never less known than before.
        mean[at, number], variance[at, number] = one.mean, np.minimum(one.variance, 1)
    evidence = np.array([_evidence(mean, variance, one) for one in CORRELATIONS])
    return SharedLuck(len(stages), shares(evidence + np.log(PRIOR)))


def _evidence(mean: np.ndarray, variance: np.ndarray, correlation: float) -> float:
    """Return the log evidence of a correlation against none: the integral of two normal densities, lot by lot."""
    one = np.eye(mean.shape[1])
    together = np.where(one == 1, 1.0, correlation)
    joined = together + variance[:, :, None] * (one - together)
    pulled = np.linalg.solve(joined, mean[:, :, None])
    fit = (mean[:, None, :] @ (one - together) @ pulled).sum()
    return float(-(np.linalg.slogdet(joined)[1].sum() + fit) / 2)
