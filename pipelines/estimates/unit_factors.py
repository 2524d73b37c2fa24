"""How much more or less often than expected each controller has faults, and how much controllers differ in that."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pipelines.estimates.counts import require
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.grid import shares
from pipelines.estimates.proportion import normal_quantile

#: Nodes of the coefficient of variation of the factors, and the log of its half-normal prior (SD 0.5) there.
SPREADS = np.linspace(0.02, 2.0, 40)
LOG_PRIOR = -(SPREADS**2) / (2 * 0.5**2)
#: Nodes of less weight add nothing that shows.
SMALLEST = 1e-6
HALVINGS = 45


@dataclass(frozen=True)
class UnitFactors:
    """Gamma factors of mean 1 around the faults expected, by controller; observed, expected: its faults.

    Given the variance θ of the factors, that of a controller is Gamma(1/θ + observed, 1/θ + expected). θ is integrated on a grid,
    so a few controllers do not pass for knowing it.   Source: Clayton & Kaldor (1987), Biometrics 43:671–681 (from memory).
    """

    observed: np.ndarray
    expected: np.ndarray

    def __post_init__(self) -> None:
        is_fine = np.isfinite(self.observed) & np.isfinite(self.expected) & (self.observed >= 0) & (self.expected >= 0)
        require(is_fine, "Faults observed or expected are no numbers from 0", "Count them first.")

    @cached_property
    def log_likelihood(self) -> np.ndarray:
        """(nodes, controllers): the log chance of its faults, up to what does not depend on the node."""
        from scipy.special import gammaln

        a = SPREADS[:, None] ** -2
        seen, due = self.observed[None], self.expected[None]
        return gammaln(a + seen) - gammaln(a) + a * np.log(a) - (a + seen) * np.log(a + due)

    def weight(self, log_likelihood: np.ndarray) -> np.ndarray:
        """Return the weight of each node for each column of summed `log_likelihood` (nodes, …)."""
        log_weight = log_likelihood + LOG_PRIOR[:, None]
        weight = np.exp(log_weight - log_weight.max(axis=0))
        return weight / weight.sum(axis=0)

    def factor(self, which: np.ndarray, *, level: float = 0.95) -> list[Estimate]:
        """Return the expected factors of some controllers with limits."""
        normal_quantile(level)
        mean = self._weight @ ((self._a + self.observed[which]) / (self._a + self.expected[which]))
        tail = (1 - level) / 2
        low, high = (self._crossing(which, chance) for chance in (1 - tail, tail))
        return [Estimate(*(float(one) for one in row)) for row in zip(mean, low, high, strict=True)]

    def exceeds(self, which: np.ndarray, factor: np.ndarray) -> np.ndarray:
        """Return the chance that the factors of some controllers are above these; 0 for an infinite one."""
        from scipy.special import gammaincc

        return self._weight @ gammaincc(self._a + self.observed[which], (self._a + self.expected[which]) * factor)

    @cached_property
    def _nodes(self) -> tuple[np.ndarray, np.ndarray]:
        weight = shares(self.log_likelihood.sum(axis=1) + LOG_PRIOR)
        is_told = weight > SMALLEST
        return SPREADS[is_told, None] ** -2, weight[is_told] / weight[is_told].sum()

    @property
    def _a(self) -> np.ndarray:
        return self._nodes[0]

    @property
    def _weight(self) -> np.ndarray:
        return self._nodes[1]

    def _crossing(self, which: np.ndarray, chance: float) -> np.ndarray:
        below = np.zeros(len(which))
        above = (self._a.max() + self.observed[which] + 50) / (self._a.min() + self.expected[which]) * 20
        for _ in range(HALVINGS):
            middle = (below + above) / 2
            is_likelier = self.exceeds(which, middle) > chance
            below, above = np.where(is_likelier, middle, below), np.where(is_likelier, above, middle)
        return (below + above) / 2
