"""Regression of lifetimes on categorical factors: hazard ratios (Cox) and life ratios (Weibull accelerated life).

lifelines fits; what it lacks is ours and checked against it: exact ties of counted failures, clusters, large tables, and the
last steps to the top, from whose curvature the limits come.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.accelerated import LifeSpells, life_likelihood, life_residuals
from pipelines.estimates.climb import climb
from pipelines.estimates.counts import group, require, require_columns, times, whole_counts
from pipelines.estimates.cox_robust import CoxSpells, Partial, partial_likelihood, sandwich, score_residuals
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.factors import Design, design
from pipelines.estimates.lifelines_start import cox_start, life_start
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: A log ratio beyond this (a factor of 160,000) is on its way to infinity.
LARGEST_LOG_RATIO = 12.0
#: Under this share of the largest, a direction of the scaled information says nothing.
LEAST_EIGENVALUE = 1e-9
LEAST_CLUSTERS = 3


@dataclass(frozen=True)
class LevelRatio:
    """One level against the reference of its factor, all other factors being equal.

    level: its value, None where not recorded; pooled: the rare levels it stands for under `other`, else empty.
    ratio: 1 for the reference; `no_failures` or `too_few_failures` where the level has too few of its own,
    `too_few_clusters` where only the limits are missing.
    """

    factor: str
    level: object
    pooled: tuple
    spell_count: int
    failure_count: int
    is_reference: bool
    ratio: Estimate


@dataclass(frozen=True)
class Regression:
    """Ratios by factor and level, in the order asked for, each factor's levels sorted and the pooled one last.

    one_level: factors with a single level to compare, which are left out; at_fault: the factors behind `confounded` or
    `separated`; cluster_count: None without clusters; log_likelihood: of the fit, and without any factor; shape: the
    Weibull's, None for hazard ratios. because: why there is no fit, else None; then no level has a ratio.
    """

    ratios: tuple[LevelRatio, ...]
    spell_count: int
    failure_count: int
    cluster_count: int | None
    log_likelihood: float | None
    log_likelihood_without: float | None
    shape: Estimate | None
    one_level: tuple[str, ...]
    at_fault: tuple[str, ...]
    because: Because | None = None


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
    require_columns(spells, ["at", "is_failure", "spell_count", *strata])
    spells, count, entry = _counted(spells)
    at, is_failure = times(spells, "at"), spells["is_failure"].to_numpy(dtype=bool)
    require(np.isfinite(at) & (entry < at), "A spell ends nowhere, or has no length", "Leave such spells out.")
    columns = design(spells, count, is_failure, factors=factors, min_failures=min_failures)
    clusters = None if cluster is None else group([spells], by=[cluster]).codes[0]
    task = _Task(columns, count, is_failure, clusters, level, min_failures)
    if because := task.refusal():
        return task.refused(because)
    use = columns.is_used
    stratum = group([spells], by=list(strata)).codes[0]
    rows = CoxSpells(entry[use], at[use], is_failure[use], count[use].astype(float), columns.x[use], stratum[use])
    zero = np.zeros(rows.x.shape[1])
    if mixed := _flat_directions(partial_likelihood(rows, zero).information):
        return task.refused(Because.CONFOUNDED, columns.factors_of(mixed))
    top = climb(lambda beta: partial_likelihood(rows, beta), cox_start(rows))
    if top is None or (abs(top[0]) > LARGEST_LOG_RATIO).any():
        return task.refused(Because.SEPARATED, columns.factors_of(np.flatnonzero(_is_away(top, zero))))
    error = task.errors(top[1], lambda: score_residuals(rows, top[0]))
    return task.answer(top[0], error, top[1].value, partial_likelihood(rows, zero).value, None)


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
    spells, count, entry = _counted(spells)
    lower, upper = times(spells, "lower"), times(spells, "upper")
    is_failure, is_between = upper < np.inf, (lower < upper) & (upper < np.inf)
    is_sound = np.isfinite(lower) & (lower <= upper) & (upper > 0) & ((entry < lower) | (is_between & (entry <= lower)))
    require(is_sound, "A spell ends before it begins, or has no length", "Give entry < lower <= upper; leave others out.")
    columns = design(spells, count, is_failure, factors=factors, min_failures=min_failures)
    clusters = None if cluster is None else group([spells], by=[cluster]).codes[0]
    task = _Task(columns, count, is_failure, clusters, level, min_failures)
    if because := task.refusal():
        return task.refused(because)
    use = columns.is_used
    x = np.column_stack([np.ones(len(spells)), columns.x])[use]
    rows = LifeSpells(entry[use], lower[use], upper[use], count[use].astype(float), x)
    weighted = rows.x * np.sqrt(rows.count)[:, None]
    if mixed := _flat_directions(weighted.T @ weighted):
        return task.refused(Because.CONFOUNDED, columns.factors_of(np.array(mixed) - 1))
    plain = LifeSpells(rows.entry, rows.lower, rows.upper, rows.count, rows.x[:, :1])
    exposed = float(rows.count @ (np.where(is_failure[use], (rows.lower + rows.upper) / 2, rows.lower) - rows.entry))
    guess = np.array([np.log(exposed / (rows.count @ is_failure[use])), 0.0])
    without = climb(lambda theta: life_likelihood(plain, theta), guess)
    if without is None:
        return task.refused(Because.FIT_FAILED)
    zero = np.concatenate([without[0][:1], np.zeros(x.shape[1] - 1), without[0][1:]])
    top = climb(lambda theta: life_likelihood(rows, theta), life_start(rows, zero))
    if top is None or (abs(top[0] - zero) > LARGEST_LOG_RATIO).any():
        return task.refused(Because.SEPARATED, columns.factors_of(np.flatnonzero(_is_away(top, zero)) - 1))
    error = task.errors(top[1], lambda: life_residuals(rows, top[0]))
    shape = task.limits(top[0][-1], error[-1])
    return task.answer(top[0][1:-1], error[1:-1], top[1].value, without[1].value, shape)


@dataclass(frozen=True)
class _Task:
    """What both regressions share: the sizes, the refusals, the errors by cluster and the record."""

    design: Design
    count: np.ndarray
    is_failure: np.ndarray
    clusters: np.ndarray | None
    level: float
    min_failures: int

    @property
    def failure_count(self) -> int:
        return int(self.count[self.is_failure].sum())

    @property
    def cluster_count(self) -> int | None:
        return None if self.clusters is None else len(np.unique(self.clusters[self.design.is_used]))

    def refusal(self) -> Because | None:
        normal_quantile(self.level)
        if not len(self.count):
            return Because.NO_SPELLS
        if self.failure_count < max(self.min_failures, 1):
            return Because.TOO_FEW_FAILURES if self.failure_count else Because.NO_FAILURES
        return None if self.design.x.shape[1] else Because.ONE_LEVEL

    def errors(self, top: Partial, residuals: Callable[[], np.ndarray]) -> np.ndarray:
        """Return the standard error of each parameter; by cluster the larger of the sandwich's and the model's."""
        variance = np.diag(np.linalg.inv(top.information))
        if self.cluster_count is not None and self.cluster_count >= LEAST_CLUSTERS:
            use = self.design.is_used
            _, number = np.unique(self.clusters[use], return_inverse=True)
            robust = np.diag(sandwich(top.information, residuals(), self.count[use], number))
            variance = np.maximum(variance, robust * self.cluster_count / (self.cluster_count - 1))
        return np.sqrt(variance)

    def limits(self, log: float, error: float) -> Estimate:
        """Return exp(log) with its limits, or with the reason why it has none."""
        if self.cluster_count is None:
            z = normal_quantile(self.level)
        elif self.cluster_count < LEAST_CLUSTERS:
            return Estimate(float(np.exp(log)), None, None, Because.TOO_FEW_CLUSTERS)
        else:
            from scipy.stats import t

            z = float(t.ppf((1 + self.level) / 2, self.cluster_count - 1))
        return Estimate(*(float(np.exp(log + side * z * error)) for side in (0, -1, 1)))

    def answer(
        self, log: np.ndarray, error: np.ndarray, value: float, value_without: float, shape: Estimate | None
    ) -> Regression:
        ratios = []
        for one in self.design.levels:
            if one.factor in self.design.one_level:
                ratio = Estimate.refused(Because.ONE_LEVEL)
            elif one.is_reference:
                ratio = Estimate(1.0, 1.0, 1.0)
            elif one.failure_count < max(self.min_failures, 1):
                ratio = Estimate.refused(Because.TOO_FEW_FAILURES if one.failure_count else Because.NO_FAILURES)
            else:
                ratio = self.limits(log[one.column], error[one.column])
            ratios.append(ratio)
        return self._record(ratios, value, value_without, shape, (), None)

    def refused(self, because: Because, at_fault: tuple[str, ...] = ()) -> Regression:
        return self._record([Estimate.refused(because)] * len(self.design.levels), None, None, None, at_fault, because)

    def _record(self, ratios, value, value_without, shape, at_fault, because) -> Regression:
        named = tuple(
            LevelRatio(one.factor, one.level, one.pooled, one.spell_count, one.failure_count, one.is_reference, ratio)
            for one, ratio in zip(self.design.levels, ratios, strict=True)
        )
        size = (int(self.count.sum()), self.failure_count, self.cluster_count)
        return Regression(named, *size, value, value_without, shape, self.design.one_level, at_fault, because)


def _counted(spells: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    """Return the rows that count somebody, their counts, and their entries."""
    if "entry" not in spells:
        raise InputError("The counts lack the column entry.", "Count by these columns first.")
    count = whole_counts(spells, "spell_count")
    spells = spells[count > 0]
    return spells, count[count > 0], times(spells, "entry")


def _flat_directions(information: np.ndarray) -> list[int]:
    """Return the columns that take part in a direction of which the data say nothing; none where all is told apart."""
    scale = np.sqrt(np.diag(information))
    if (scale <= 0).any():
        return np.flatnonzero(scale <= 0).tolist()
    sizes, directions = np.linalg.eigh(information / np.outer(scale, scale))
    flat = directions[:, sizes < LEAST_EIGENVALUE * sizes[-1]]
    return np.flatnonzero((abs(flat) > 0.1).any(axis=1)).tolist() if flat.size else []


def _is_away(top: tuple[np.ndarray, Partial] | None, zero: np.ndarray) -> np.ndarray:
    return np.ones(len(zero), dtype=bool) if top is None else abs(top[0] - zero) > LARGEST_LOG_RATIO
