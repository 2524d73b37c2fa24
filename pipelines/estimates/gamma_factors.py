"""How much more or less often than expected each site, or each controller, has faults: drawn, shrunk by what it tells."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.counts import require
from pipelines.estimates.grid import drawn_nodes, shares

#: Half-normal prior of the factors' coefficient of variation, and the nodes of its grid.
SPREAD_SD = 0.5
SPREADS = np.linspace(0.02, 2.0, 40)


def gamma_factors(
    observed: np.ndarray, expected: np.ndarray, *, count: int, rng: np.random.Generator
) -> np.ndarray:  # fmt: skip
    """Draw the factor of each cluster, (draws, clusters), from its posterior; 1 is as expected.

    observed, expected: faults by cluster, expected under laws that know no clusters. A cluster that was never watched has 0
    of both, and its factor is drawn from the law of all. Fewer than two watched clusters cannot tell luck from a factor: 1.
    In every draw the factors explain as many faults as there were.
    Raises InputError unless both are numbers from 0.
    Method: factor ~ Gamma(1/θ, 1/θ) and Poisson faults, so given θ it is Gamma(1/θ + O, 1/θ + E); θ is integrated on a grid
    under a half-normal prior of its root.   Source: Clayton & Kaldor (1987), Biometrics 43:671–681 (from memory).
    """
    from scipy.special import gammaln

    observed, expected = np.asarray(observed, dtype=float), np.asarray(expected, dtype=float)
    is_fine = np.isfinite(observed) & np.isfinite(expected) & (observed >= 0) & (expected >= 0)
    require(is_fine, "Faults observed or expected are no numbers from 0", "Count them first.")
    is_watched = expected > 0
    if is_watched.sum() < 2:
        return np.ones((count, len(observed)))
    a = SPREADS[:, None] ** -2
    seen, due = observed[is_watched], expected[is_watched]
    log_weight = (
        gammaln(a + seen) - gammaln(a) + a * np.log(a) - (a + seen) * np.log(a + due)
    ).sum(axis=1) - SPREADS**2 / (2 * SPREAD_SD**2)  # fmt: skip
    drawn = rng.permutation(SPREADS[drawn_nodes(shares(log_weight), count)])[:, None] ** -2
    factor = rng.standard_gamma(drawn + observed) / (drawn + expected)
    # (what is not known of the level of all is the laws' to tell, and not to be told twice)
    return factor * (observed.sum() / (factor @ expected))[:, None] if observed.sum() else factor
