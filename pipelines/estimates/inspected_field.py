"""Did a share found at inspection tell how units did later: a trend of the faults over batches, and how much luck blurs it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because

#: Under so many batches a trend over them says nothing.
LEAST_BATCHES = 8
_STEPS, _CLOSE = 60, 1e-10
#: A difference between batches beyond e to this is no estimate but a slope without end.
_RUNAWAY = 25.0


@dataclass(frozen=True)
class FieldTrend:
    """ratio: of the faults of a batch with one percentage point more nonconforming at inspection; over-dispersed Poisson.

    real_share: how much of the variance between inspected shares is more than luck of the samples (0–1; None: none was bad). The
    log of the ratio is drawn towards 0 by about that factor (regression dilution); ratio_if_known has that taken off, None where
    real_share is under a tenth. dispersion: variance of the faults over that of a Poisson count, 1 at least.
    """

    batches: int
    ratio: Estimate
    real_share: float | None
    ratio_if_known: float | None
    dispersion: float | None

    @property
    def because(self) -> Because | None:
        return self.ratio.because


def field_trend(
    bad: np.ndarray, tested: np.ndarray, failures: np.ndarray, expected: np.ndarray, *, level: float
) -> FieldTrend:  # fmt: skip
    """Return the trend over batches: bad of tested at inspection; failures in the field against so many expected (> 0).

    log E[failures] = log(expected) + a + b·(share in percent), by quasi-likelihood, limits by t with batches − 2 degrees of
    freedom. Refused: `too_few_batches`; `shares_alike`, where all shares are the same; `no_failures`. Raises InputError.
    Source: McCullagh & Nelder (1989), sections 6.2 and 9.2; Fuller (1987) for the dilution (from memory).
    """
    bad, tested, failures, expected = (np.asarray(one, dtype=float) for one in (bad, tested, failures, expected))
    if not ((expected > 0) & (tested >= 1) & (bad >= 0) & (bad <= tested) & (failures >= 0)).all():
        raise InputError("A batch without expected faults, or with more bad than tested.", "Leave such batches out.")
    count, shares = len(bad), bad / tested * 100
    if count < LEAST_BATCHES:
        return _refused(count, Because.TOO_FEW_BATCHES)
    if np.ptp(shares) == 0:
        return _refused(count, Because.SHARES_ALIKE)
    if not failures.sum() > 0:
        return _refused(count, Because.NO_FAILURES)
    found = _fitted(shares, failures, expected)
    if found is None:
        return _refused(count, Because.FIT_FAILED)
    slope, variance, dispersion = found
    from scipy.special import stdtrit

    reach = stdtrit(count - 2, (1 + level) / 2) * np.sqrt(dispersion * variance)
    real = real_share(bad, tested)
    known = float(np.exp(slope / real)) if real is not None and real >= 0.1 else None
    ratio = Estimate(*(float(np.exp(slope + sign * reach)) for sign in (0, -1, 1)))
    return FieldTrend(count, ratio, real, known, dispersion)


def real_share(bad: np.ndarray, tested: np.ndarray) -> float | None:
    """Return how much of the variance between the shares bad/tested is more than luck (binomial), 0–1; None: all alike."""
    bad, tested = np.asarray(bad, dtype=float), np.asarray(tested, dtype=float)
    middle = bad.sum() / tested.sum()
    seen = np.var(bad / tested, ddof=1)
    luck = middle * (1 - middle) * np.mean(1 / tested)
    return float(max(1 - luck / seen, 0)) if seen > 0 else None


def _refused(count: int, because: Because) -> FieldTrend:
    return FieldTrend(count, Estimate.refused(because), None, None, None)


def _fitted(shares: np.ndarray, failures: np.ndarray, expected: np.ndarray) -> tuple[float, float, float] | None:
    """Return slope, its variance without over-dispersion, and the dispersion; None where the slope runs away."""
    design = np.column_stack([np.ones(len(shares)), shares - np.average(shares, weights=expected)])
    beta = np.array([np.log(failures.sum() / expected.sum()), 0.0])
    for _ in range(_STEPS):
        if np.ptp(design @ beta) > _RUNAWAY:
            return None
        mean = expected * np.exp(design @ beta)
        information = design.T @ (design * mean[:, None])
        step = np.linalg.solve(information, design.T @ (failures - mean))
        beta = beta + np.clip(step, -1, 1)
        if np.abs(step).max() < _CLOSE:
            pearson = float(((failures - mean) ** 2 / mean).sum()) / (len(shares) - 2)
            return float(beta[1]), float(np.linalg.inv(information)[1, 1]), max(pearson, 1.0)
    return None
