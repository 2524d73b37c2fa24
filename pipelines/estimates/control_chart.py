"""Control charts of successive samples: shares nonconforming against three-sigma limits, and sums that find a slow creep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError

#: Limits of the charts, in standard deviations; for sums what is let pass and what is a signal. Conventions.
SIGMAS, ALLOWANCE, SIGNAL = 3.0, 0.5, 5.0


@dataclass(frozen=True)
class ShareChart:
    """A p chart. middle: the share of all samples together; low, high: limits of each; is_outside: beyond its limits.

    luck: the chance that any sample lies outside though all come from the middle share (exact, binomial).
    """

    middle: float
    low: np.ndarray
    high: np.ndarray
    is_outside: np.ndarray
    luck: float


def share_chart(bad: np.ndarray, tested: np.ndarray) -> ShareChart:
    """Return the p chart of samples with so many bad of so many tested. Raises InputError unless 0 <= bad <= tested, tested >= 1.

    Source: NIST/SEMATECH e-Handbook 6.3.3.2 (from memory): p̄ ± 3·√(p̄(1 − p̄)/n), cut at 0 and 1.
    """
    from scipy.special import bdtr

    bad, tested = _counts(bad, tested)
    middle = bad.sum() / tested.sum()
    reach = SIGMAS * np.sqrt(middle * (1 - middle) / tested)
    low, high = np.maximum(middle - reach, 0), np.minimum(middle + reach, 1)
    share = bad / tested
    # counts that lie within, from the least to the most; a rounding error moves none of them outside
    most, least = np.floor(high * tested + 1e-9), np.ceil(low * tested - 1e-9)
    size = tested.astype(np.int64)
    within = bdtr(most, size, middle) - np.where(least > 0, bdtr(np.maximum(least - 1, 0), size, middle), 0)
    return ShareChart(float(middle), low, high, (share < low - 1e-12) | (share > high + 1e-12), float(1 - np.prod(within)))


def cumulative_sum(values: np.ndarray, *, target: float, allowance: float) -> np.ndarray:
    """Return the running sum of what values exceed the target by more than the allowance, never under 0.

    Source: Page (1954), Biometrika 41:100–115; NIST/SEMATECH e-Handbook 6.3.2.3 (from memory).
    """
    found = [0.0]
    for value in np.asarray(values, dtype=float):
        found.append(max(0.0, found[-1] + value - target - allowance))
    return np.array(found[1:])


def creep(bad: np.ndarray, tested: np.ndarray) -> int | None:
    """Return the place of the first sample at which the shares have crept up, None: nowhere.

    Each share counts by how many standard deviations it lies over that of all samples.
    Raises InputError as `share_chart`.
    """
    bad, tested = _counts(bad, tested)
    middle = bad.sum() / tested.sum()
    if not 0 < middle < 1:
        return None
    scores = (bad / tested - middle) / np.sqrt(middle * (1 - middle) / tested)
    beyond = np.flatnonzero(cumulative_sum(scores, target=0.0, allowance=ALLOWANCE) > SIGNAL)
    return int(beyond[0]) if len(beyond) else None


def _counts(bad: np.ndarray, tested: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    bad, tested = np.asarray(bad, dtype=float), np.asarray(tested, dtype=float)
    if not (len(tested) and ((tested >= 1) & (bad >= 0) & (bad <= tested)).all()):
        raise InputError("A sample with more bad than tested, or none tested.", "Leave such samples out.")
    return bad, tested
