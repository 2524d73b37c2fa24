"""How much more or less often than expected each site, or each controller, has faults: drawn, shrunk by what it tells."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.grid import drawn_nodes, shares
from pipelines.estimates.unit_factors import LOG_PRIOR, SPREADS, UnitFactors


def gamma_factors(
    observed: np.ndarray, expected: np.ndarray, *, count: int, rng: np.random.Generator
) -> np.ndarray:  # fmt: skip
    """Draw the factor of each cluster, (draws, clusters), from its posterior; 1 is as expected.

    observed, expected: faults by cluster, expected under laws that know no clusters. A cluster that was never watched has 0
    of both, and its factor is drawn from the law of all. Fewer than two watched clusters cannot tell luck from a factor: 1.
    In every draw the factors explain as many faults as there were.
    Raises InputError unless both are numbers from 0.
    The law of the factors and its source are those of `UnitFactors`.
    """
    observed, expected = np.asarray(observed, dtype=float), np.asarray(expected, dtype=float)
    told = UnitFactors(observed, expected)
    is_watched = expected > 0
    if is_watched.sum() < 2:
        return np.ones((count, len(observed)))
    weight = shares(told.log_likelihood[:, is_watched].sum(axis=1) + LOG_PRIOR)
    drawn = rng.permutation(SPREADS[drawn_nodes(weight, count)])[:, None] ** -2
    factor = rng.standard_gamma(drawn + observed) / (drawn + expected)
    # (what is not known of the level of all is the laws' to tell, and not to be told twice)
    return factor * (observed.sum() / (factor @ expected))[:, None] if observed.sum() else factor
