"""Regression of lifetimes on categorical factors: hazard ratios (Cox) and life ratios (Weibull accelerated life).

lifelines fits; what it lacks is ours and checked against it: exact ties of counted failures, clusters, large tables, and the
last steps to the top, from whose curvature the limits come.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.accelerated import LifeSpells, life_likelihood, life_residuals
from pipelines.estimates.climb import climb
from pipelines.estimates.counts import group, require, require_columns, times
from pipelines.estimates.cox_robust import CoxSpells, Partial, partial_likelihood, score_residuals
from pipelines.estimates.lifelines_start import cox_start, life_start
from pipelines.estimates.regression_task import Regression, Task, counted_rows, task_of
from pipelines.vocabulary import Because

#: A log ratio beyond this (a factor of 160,000) is on its way to infinity.
LARGEST_LOG_RATIO = 12.0
#: Under this share of the largest, a direction of the scaled information says nothing.
LEAST_EIGENVALUE = 1e-9


def hazard_ratios(
    spells: pd.DataFrame,
    *,
    factors: Sequence[str],
    strata: Sequence[str] = (),
    cluster: str | None = None,
    level: float = 0.95,
    min_failures: int = 6,
) -> Regression:
    """Compare hazards between the levels of each factor: above 1 fails sooner.

    spells: counts per `factors`, `strata`, `cluster`, `entry`, `at` (0 <= entry < at, in the clock's unit), `is_failure`,
    `spell_count`. strata: columns whose groups have a hazard of their own each, and are compared only within.
    cluster: a column whose values stand for things that share their fate (a controller, a site); the limits are then of
    Student's t with clusters − 1 degrees of freedom and the larger of the sandwich's error and the model's.
    Levels under `min_failures` are pooled into `other`.
    Refused with `no_spells`, `no_failures`, `too_few_failures`, `one_level` (no factor has two levels with failures),
    `confounded` (columns that always go together, also with strata), `separated` (a ratio runs to 0 or infinity).
    Raises InputError.   Source: Cox (1972); ties: Efron (1977); clusters: Lin & Wei (1989); proven against R's coxph.
    """
    fit = fitted_cox(spells, factors=factors, strata=strata, cluster=cluster, level=level, min_failures=min_failures)
    if isinstance(fit, Regression):
        return fit
    error = fit.task.errors(fit.top, lambda: score_residuals(fit.rows, fit.beta))
    return fit.task.answer(fit.beta, error, fit.top.value, None)


@dataclass(frozen=True)
class CoxFit:
    """A Cox regression that stands: its rows and columns, the coefficients and the likelihood at the top."""

    task: Task
    rows: CoxSpells
    beta: np.ndarray
    top: Partial


def fitted_cox(
    spells: pd.DataFrame,
    *,
    factors: Sequence[str],
    strata: Sequence[str],
    cluster: str | None,
    level: float,
    min_failures: int,
) -> CoxFit | Regression:
    """Return the fit behind `hazard_ratios`, or its refusal; arguments and errors as there."""
    require_columns(spells, ["at", "is_failure", "spell_count", *strata])
    spells, count, entry = counted_rows(spells)
    at, is_failure = times(spells, "at"), spells["is_failure"].to_numpy(dtype=bool)
    require(np.isfinite(at) & (entry < at), "A spell ends nowhere, or has no length", "Leave such spells out.")
    task = task_of(spells, count, is_failure, factors=factors, cluster=cluster, level=level, min_failures=min_failures)
    if because := task.refusal():
        return task.refused(because)
    use, columns = task.design.is_used, task.design
    stratum = group([spells], by=list(strata)).codes[0]
    rows = CoxSpells(entry[use], at[use], is_failure[use], count[use].astype(float), columns.x[use], stratum[use])
    zero = np.zeros(rows.x.shape[1])
    if mixed := _flat_directions(partial_likelihood(rows, zero).information, rows.count.sum()):
        return task.refused(Because.CONFOUNDED, columns.factors_of(mixed))
    top = climb(lambda beta: partial_likelihood(rows, beta), cox_start(rows))
    if top is None or _is_away(top, zero).any():
        return task.refused(Because.SEPARATED, columns.factors_of(np.flatnonzero(_is_away(top, zero))))
    return CoxFit(task, rows, *top)


def life_ratios(
    spells: pd.DataFrame,
    *,
    factors: Sequence[str],
    cluster: str | None = None,
    level: float = 0.95,
    min_failures: int = 6,
) -> Regression:
    """Compare lifetimes between the levels of each factor under one common Weibull shape: above 1 lasts longer.

    spells: counts per `factors`, `cluster`, `entry`, `lower`, `upper`, `spell_count`, as in `weibull`. For a shape β a life
    ratio r is a hazard ratio of r^−β. Limits and refusals as in `hazard_ratios`; `fit_failed` where the data fix no shape.
    `shape` has its limits too.
    Raises InputError.   Source: Kalbfleisch & Prentice (2002), section 3.6 (from memory); proven against R's survreg.
    """
    require_columns(spells, ["lower", "upper", "spell_count"])
    spells, count, entry = counted_rows(spells)
    lower, upper = times(spells, "lower"), times(spells, "upper")
    is_failure, is_between = upper < np.inf, (lower < upper) & (upper < np.inf)
    is_sound = np.isfinite(lower) & (lower <= upper) & (upper > 0) & ((entry < lower) | (is_between & (entry <= lower)))
    require(is_sound, "A spell ends before it begins, or has no length", "Give entry < lower <= upper; leave others out.")
    task = task_of(spells, count, is_failure, factors=factors, cluster=cluster, level=level, min_failures=min_failures)
    if because := task.refusal():
        return task.refused(because)
    use, columns = task.design.is_used, task.design
    x = np.column_stack([np.ones(len(spells)), columns.x])[use]
    rows = LifeSpells(entry[use], lower[use], upper[use], count[use].astype(float), x)
    weighted = rows.x * np.sqrt(rows.count)[:, None]
    if mixed := _flat_directions(weighted.T @ weighted, rows.count.sum()):
        return task.refused(Because.CONFOUNDED, columns.factors_of(np.array(mixed) - 1))
    plain = LifeSpells(rows.entry, rows.lower, rows.upper, rows.count, rows.x[:, :1])
    exposed = float(rows.count @ (np.where(is_failure[use], (rows.lower + rows.upper) / 2, rows.lower) - rows.entry))
    guess = np.array([np.log(exposed / (rows.count @ is_failure[use])), 0.0])
    without = climb(lambda theta: life_likelihood(plain, theta), guess)
    if without is None:
        return task.refused(Because.FIT_FAILED)
    zero = np.concatenate([without[0][:1], np.zeros(x.shape[1] - 1), without[0][1:]])
    top = climb(lambda theta: life_likelihood(rows, theta), life_start(rows, zero))
    if top is None or _is_away(top, zero).any():
        return task.refused(Because.SEPARATED, columns.factors_of(np.flatnonzero(_is_away(top, zero)) - 1))
    error = task.errors(top[1], lambda: life_residuals(rows, top[0]))
    shape = task.limits(top[0][-1], error[-1])
    return task.answer(top[0][1:-1], error[1:-1], top[1].value, shape)


def _flat_directions(information: np.ndarray, spell_count: float) -> list[int]:
    """Return the columns that take part in a direction of which the data say nothing; none where all is told apart."""
    size = np.diag(information)
    if (size <= LEAST_EIGENVALUE * spell_count).any():
        return np.flatnonzero(size <= LEAST_EIGENVALUE * spell_count).tolist()
    scale = np.sqrt(size)
    sizes, directions = np.linalg.eigh(information / np.outer(scale, scale))
    flat = directions[:, sizes < LEAST_EIGENVALUE * sizes[-1]]
    return np.flatnonzero((abs(flat) > 0.1).any(axis=1)).tolist() if flat.size else []


def _is_away(top: tuple[np.ndarray, Partial] | None, zero: np.ndarray) -> np.ndarray:
    return np.ones(len(zero), dtype=bool) if top is None else abs(top[0] - zero) > LARGEST_LOG_RATIO
