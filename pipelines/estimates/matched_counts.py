"""Counts of faults of a known mean and variance: binomial where they vary little, else Poisson or negative binomial."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.counts import require

#: A variance this close to the mean, as a share of it, is the mean.
SAME = 1e-7
#: Halvings of the bracket of a limit.
HALVINGS = 50


def at_least(count: np.ndarray, mean: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """Return the chance of so many faults or more, one for each place; between whole counts it runs on smoothly.

    The law has this mean and variance: binomial where it is under the mean, Poisson at it, negative binomial above. Raises
    InputError unless means and variances are above 0.   Source: Panjer (1981), ASTIN Bulletin 12:22–26 (from memory).
    """
    from scipy.special import betainc, gammainc

    count, mean, variance = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (count, mean, variance)))
    is_fine = np.isfinite(mean) & np.isfinite(variance) & (mean > 0) & (variance > 0)
    require(is_fine.ravel(), "A mean or variance of faults is no number above 0", "Leave out places where nothing is expected.")
    found = np.ones(count.shape)
    apart = (variance - mean) / mean
    is_many = count > 0
    plain, wide, narrow = is_many & (np.abs(apart) <= SAME), is_many & (apart > SAME), is_many & (apart < -SAME)
    found[plain] = gammainc(count[plain], mean[plain])
    found[wide] = betainc(count[wide], (mean / np.maximum(apart, SAME))[wide], (apart / (1 + apart))[wide])
    trials = mean / np.maximum(-apart, SAME)
    left = np.maximum(trials - count + 1, 0.0)
    is_possible = narrow & (left > 0)
    found[narrow] = 0.0
    found[is_possible] = betainc(count[is_possible], left[is_possible], -apart[is_possible])
    return found


def mid_p(count: np.ndarray, mean: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """Return the chance of more faults than these, with half the chance of just as many.   Source: Lancaster (1961)."""
    return (at_least(count, mean, variance) + at_least(np.asarray(count) + 1, mean, variance)) / 2


def luck_limits(mean: np.ndarray, variance: np.ndarray, *, level: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the counts between which luck alone stays with the probability `level`; 0 where nothing can be too few.

    Source: Spiegelhalter (2005), Statistics in Medicine 24:1185–1202: exact limits, run on smoothly between whole counts.
    """
    mean, variance = (np.asarray(one, dtype=float) for one in (mean, variance))
    tail = (1 - level) / 2
    top = mean + 20 * np.sqrt(variance) / np.sqrt(tail) + 20
    high = _crossing(mean, variance, tail, top)
    low = np.maximum(_crossing(mean, variance, 1 - tail, top) - 1, 0.0)
    return low, high


def _crossing(mean: np.ndarray, variance: np.ndarray, chance: float, top: np.ndarray) -> np.ndarray:
    """Return the count that is reached with this chance."""
    below, above = np.zeros_like(mean), top
    for _ in range(HALVINGS):
        middle = (below + above) / 2
        is_likelier = at_least(middle, mean, variance) > chance
        below, above = np.where(is_likelier, middle, below), np.where(is_likelier, above, middle)
    return (below + above) / 2
