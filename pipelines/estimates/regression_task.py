"""What every regression shares: the record it answers with, its sizes, its refusals and its errors by cluster."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require_columns, times, whole_counts
from pipelines.estimates.cox_robust import Partial, sandwich
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.factors import Design, design
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: Fewer clusters say nothing of how clusters differ.
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
    `separated`; cluster_count: None without clusters; log_likelihood: of the fit; shape: the
    Weibull's, None for hazard ratios. because: why there is no fit, else None; then no level has a ratio.
    """

    ratios: tuple[LevelRatio, ...]
    spell_count: int
    failure_count: int
    cluster_count: int | None
    log_likelihood: float | None
    shape: Estimate | None
    one_level: tuple[str, ...]
    at_fault: tuple[str, ...]
    because: Because | None = None


@dataclass(frozen=True)
class Task:
    """What both regressions share: the sizes, the refusals, the errors by cluster and the record."""

    design: Design
    count: np.ndarray
    is_failure: np.ndarray
    clusters: np.ndarray | None
    level: float
    min_failures: int

    @cached_property
    def failure_count(self) -> int:
        return int(self.count[self.is_failure].sum())

    @cached_property
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

    def answer(self, log: np.ndarray, error: np.ndarray, value: float, shape: Estimate | None) -> Regression:
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
        return self._record(ratios, value, shape, (), None)

    def refused(self, because: Because, at_fault: tuple[str, ...] = ()) -> Regression:
        return self._record([Estimate.refused(because)] * len(self.design.levels), None, None, at_fault, because)

    def _record(self, ratios, value, shape, at_fault, because) -> Regression:
        named = tuple(
            LevelRatio(one.factor, one.level, one.pooled, one.spell_count, one.failure_count, one.is_reference, ratio)
            for one, ratio in zip(self.design.levels, ratios, strict=True)
        )
        size = (int(self.count.sum()), self.failure_count, self.cluster_count)
        return Regression(named, *size, value, shape, self.design.one_level, at_fault, because)


def task_of(
    spells: pd.DataFrame,
    count: np.ndarray,
    is_failure: np.ndarray,
    *,
    factors: Sequence[str],
    cluster: str | None,
    level: float,
    min_failures: int,
) -> Task:
    """Return the task of a regression of counted rows. Raises InputError where a column is missing."""
    columns = design(spells, count, is_failure, factors=factors, min_failures=min_failures)
    clusters = None if cluster is None else group([spells], by=[cluster]).codes[0]
    return Task(columns, count, is_failure, clusters, level, min_failures)


def counted_rows(spells: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    """Return the rows that count somebody, their counts, and their entries."""
    require_columns(spells, ["entry", "spell_count"])
    count = whole_counts(spells, "spell_count")
    spells = spells[count > 0]
    return spells, count[count > 0], times(spells, "entry")
