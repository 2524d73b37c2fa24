"""How many spares meet the demand with a chosen chance, whatever is not known of the demand taken along."""

from __future__ import annotations

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.counts import require


def stock_for(demand: np.ndarray, *, fill_chance: float) -> int:
    """Return the smallest stock s with P(demand <= s) >= fill_chance, by drawn demands (whole numbers from 0).

    Raises InputError without draws, or unless the chance lies between 0 and 1.
    """
    _require_chance(fill_chance)
    demand = np.asarray(demand, dtype=float)
    require(demand >= 0, "A drawn demand is no number from 0", "Draw whole numbers.")
    if not len(demand):
        raise InputError("There are no draws of the demand.", "Draw some first.")
    return int(np.quantile(demand, fill_chance, method="inverted_cdf"))


def pace_draws(
    events: np.ndarray, *, periods: float, count: int, rng: np.random.Generator, shock: np.ndarray | float = 1.0
) -> np.ndarray:
    """Draw how many events come in the next `periods` (of the length of the past ones), (draws,): negative binomial.

    events: how many came in each past period, under a gamma law of the pace with Jeffreys' prior; the periods' own differences
    beyond chance widen it (the pace of one period is gamma about that of all). shock: what else multiplies the pace, by draw.
    Without past periods nothing comes: 0.
    """
    events = np.asarray(events, dtype=float)
    require(events >= 0, "A count of events is no number from 0", "Count them first.")
    if not len(events) or not events.sum():
        return np.zeros(count, dtype=np.int64)
    pace = rng.gamma(events.sum() + 0.5, 1 / len(events), count)
    variance = _excess(events)
    if variance > 0:
        pace = pace * rng.gamma(1 / variance, variance, count)
    return rng.poisson(np.maximum(pace * periods * shock, 0))


def _excess(events: np.ndarray) -> float:
    """Return the squared coefficient of variation of past periods beyond that of Poisson counts; 0 for under three periods."""
    if len(events) < 3:
        return 0.0
    mean = events.mean()
    return float(max((events.var(ddof=1) - mean) / mean**2, 0.0))


def _require_chance(chance: float) -> None:
    if not 0 < chance < 1:
        raise InputError(f"A fill chance of {chance} is not between 0 and 1.", "Give one such as 0.95.")
