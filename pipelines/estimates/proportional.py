"""Does a hazard ratio hold at every age? Schoenfeld's residuals against the rank of the failure times, from counts.

lifelines refuses these residuals with late entry. The test here is the score test of a ratio that changes with the rank,
whose variance is summed over the failure times; the older one (lifelines) takes their mean, which late entry upsets.
Sources: Schoenfeld (1982); Grambsch & Therneau (1994).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.cox_robust import CoxSpells, partial_likelihood, schoenfeld
from pipelines.estimates.many_tests import holm
from pipelines.estimates.regression import fitted_cox
from pipelines.estimates.regression_task import Regression
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class FactorCheck:
    """One factor. statistic: chi-squared with `degrees_of_freedom`; p_adjusted: Holm's over the factors.

    is_changing: p_adjusted is below 1 − level, so one ratio does not serve all ages. The four are None where `because`
    says why.
    """

    factor: str
    statistic: float | None
    degrees_of_freedom: int
    p_value: float | None
    p_adjusted: float | None
    is_changing: bool | None
    because: Because | None = None


@dataclass(frozen=True)
class ProportionalCheck:
    """The factors in the order asked for; because, at_fault: why nothing could be checked, as in `Regression`."""

    factors: tuple[FactorCheck, ...]
    failure_count: int
    at_fault: tuple[str, ...]
    because: Because | None = None


def proportional(
    spells: pd.DataFrame,
    *,
    factors: Sequence[str],
    strata: Sequence[str] = (),
    level: float = 0.95,
    min_failures: int = 6,
) -> ProportionalCheck:
    """Check for each factor whether its hazard ratios change with age.

    Arguments, refusals and errors as in `hazard_ratios`. A factor with one level is refused as `one_level`. Spells count
    as independent: where they share controllers the p-values are somewhat too small.
    """
    fit = fitted_cox(spells, factors=factors, strata=strata, cluster=None, level=level, min_failures=min_failures)
    if isinstance(fit, Regression):
        refused = tuple(FactorCheck(one, None, 0, None, None, None, fit.because) for one in factors)
        return ProportionalCheck(refused, fit.failure_count, fit.at_fault, fit.because)
    columns = [
        [one.column for one in fit.task.design.levels if one.factor == factor and one.column is not None] for factor in factors
    ]
    compared = [one for one in columns if one]
    statistic, p_value = change_test(fit.rows, fit.beta, compared)
    results = iter(zip(statistic, p_value, holm(p_value), strict=True))
    checks = []
    for factor, mine in zip(factors, columns, strict=True):
        if mine:
            found, p, adjusted = (float(one) for one in next(results))
            checks.append(FactorCheck(factor, found, len(mine), p, adjusted, adjusted < 1 - level))
        else:
            checks.append(FactorCheck(factor, None, 0, None, None, None, Because.ONE_LEVEL))
    return ProportionalCheck(tuple(checks), fit.task.failure_count, ())


def change_test(
    rows: CoxSpells, beta: np.ndarray, columns: Sequence[Sequence[int]], *, along: np.ndarray | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Return the score statistic and its p-value for each set of columns, at the maximum beta.

    along: what the log ratio may follow, one value for each of `rows.events`; by default the middle rank of the failures.
    Where all failures fall at one time nothing can change: statistic 0, p 1.
    """
    from scipy.stats import chi2

    failed = rows.events.failed
    along = middle_rank(rows.events.time, failed) if along is None else along
    along = along - (along @ failed) / failed.sum()
    score = along @ schoenfeld(rows, beta)
    plain, first, second = (
        partial_likelihood(rows, beta, by_event=weight).information for weight in (np.ones(len(along)), along, along**2)
    )
    variance = second - first @ np.linalg.solve(plain, first)
    statistic = np.array([_square(score[mine], variance[np.ix_(mine, mine)], second[np.ix_(mine, mine)]) for mine in columns])
    return statistic, chi2.sf(statistic, [len(mine) for mine in columns])


def middle_rank(time: np.ndarray, failed: np.ndarray) -> np.ndarray:
    """Return the middle rank of the failures at each time, over all strata together (1 for the first)."""
    _, place = np.unique(time, return_inverse=True)
    together = np.bincount(place, weights=failed)
    return (np.cumsum(together) - (together - 1) / 2)[place]


def _square(score: np.ndarray, variance: np.ndarray, whole: np.ndarray) -> float:
    """Return score′ variance⁻¹ score; directions whose variance is rounding error add nothing."""
    sizes, directions = np.linalg.eigh(variance)
    is_known = sizes > 1e-10 * max(np.trace(whole), 1e-300)
    return float((((directions.T @ score) ** 2)[is_known] / sizes[is_known]).sum())
