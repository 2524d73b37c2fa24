"""Limits that stay honest where things share their fate: two sticks of a controller, or few sites.

The influence of each spell on the curve is summed within its cluster; the squares of the sums give the variance. The larger
of it and the one for independent spells counts, turned into an effective number of spells for Wilson's limits, with
Student's t of clusters − 1 degrees of freedom for the normal.
Sources: Ying & Wei (1994), Journal of Multivariate Analysis 50:17–29; Williams (1995), Biometrics 51:1347–1352 (both from
memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import group, require, require_columns, times, whole_counts
from pipelines.estimates.cox_robust import CoxSpells
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile, score_limits
from pipelines.estimates.survival import SHARE_TOLERANCE
from pipelines.vocabulary import Because

#: Fewer clusters say nothing of how clusters differ.
LEAST_CLUSTERS = 3
#: Times looked at before the search for a limit closes in between two of them.
COARSE_STEPS = 33


@dataclass(frozen=True)
class ClusteredShare:
    """A share of one group with limits by cluster.

    at: the age it is the share at, in the clock's unit; None for a plain proportion.
    design_effect: the variance by cluster over that of independent spells; None where either is 0 or unknown.
    """

    by: tuple
    at: float | None
    share: Estimate
    cluster_count: int
    design_effect: float | None


@dataclass(frozen=True)
class ClusteredLife:
    """The age by which a share of one group failed, in the clock's unit, with limits by cluster.

    design_effect: as in `ClusteredShare`, of the share at that age; None where it is not reached.
    """

    by: tuple
    life: Estimate
    cluster_count: int
    design_effect: float | None


def clustered_survival(
    spells: pd.DataFrame, *, by: Sequence[str], at_times: Sequence[float], level: float = 0.95
) -> list[ClusteredShare]:
    """Return the share still free of failure just after each time, for each group: groups sorted, times as given.

    spells: counts per `by`, `cluster`, `entry`, `at` (0 <= entry < at), `is_failure`, `spell_count`. A cluster is known by
    its value within the group. Refused: `no_follow_up` past the last exit, unless the curve is 0, and
    before the first entry; `too_few_clusters` under
    three clusters, where the share stands without limits. Where the share is 0 or 1 the clusters that failed, or are still
    at risk, stand for the effective number.
    Raises InputError.   The share is Kaplan & Meier's (1958), as in `survival`.
    """
    for time in at_times:
        if not 0 <= time < np.inf:
            raise InputError(f"A time of {time} is no age.", "Give numbers from 0.")
    found = []
    for curve in _curves(spells, by=by, level=level):
        for time in at_times:
            found.append(ClusteredShare(curve.by, float(time), *curve.share(float(time))))
    return found


def clustered_life(spells: pd.DataFrame, *, by: Sequence[str], share: float, level: float = 0.95) -> list[ClusteredLife]:
    """Return for each group the age by which `share` have failed: 0.1 for B10, 0.5 for the median.

    spells: as in `clustered_survival`. The estimate is the first failure time at which the curve is <= 1 − share; the limits
    are where its limits by cluster get there. `not_reached`, `limit_not_reached`, `too_few_clusters`, as words say.
    Raises InputError.
    """
    if not 0 < share < 1:
        raise InputError(f"{share} is not a share of failures.", "Give a number between 0 and 1, such as 0.1 for B10.")
    found = []
    for curve in _curves(spells, by=by, level=level):
        life = curve.life(1 - share)
        effect = None if life.estimate is None else curve.share(life.estimate)[2]
        found.append(ClusteredLife(curve.by, life, curve.cluster_count, effect))
    return found


def clustered_proportion(attempts: pd.DataFrame, *, by: Sequence[str], level: float = 0.95) -> list[ClusteredShare]:
    """Return the share of attempts that passed, for each group, with limits by cluster.

    attempts: counts per `by`, `cluster`, `is_passed`, `attempt_count`, and optionally `cluster_count`: the cluster stands for
    so many that are alike. Where all or none passed the number of clusters stands for the effective number. Under three
    clusters the share stands without limits.
    Raises InputError.
    """
    normal_quantile(level)
    require_columns(attempts, ["cluster", "is_passed", "attempt_count"])
    count = whole_counts(attempts, "attempt_count")
    alike = (
        whole_counts(attempts, "cluster_count") if "cluster_count" in attempts.columns else np.ones(len(attempts), dtype=np.int64)
    )
    is_used = (count > 0) & (alike > 0)
    attempts, count, alike = attempts[is_used], count[is_used], alike[is_used]
    groups, cells = group([attempts], by=by), group([attempts], by=[*by, "cluster"])
    passed = np.bincount(cells.codes[0], weights=count * attempts["is_passed"].to_numpy(dtype=bool), minlength=cells.count)
    tried = np.bincount(cells.codes[0], weights=count, minlength=cells.count)
    owner, times_seen = np.zeros(cells.count, dtype=np.int64), np.zeros(cells.count, dtype=np.int64)
    owner[cells.codes[0]], times_seen[cells.codes[0]] = groups.codes[0], alike
    found = []
    for number, values in enumerate(groups.tuples()):
        k, n, weight = (one[owner == number] for one in (passed, tried, times_seen))
        total = float(weight @ n)
        share, clusters = float(weight @ k) / total, int(weight.sum())
        plain, robust = share * (1 - share) / total, float(weight @ (k - share * n) ** 2) / total**2
        found.append(ClusteredShare(values, None, *_limits(share, plain, robust, clusters, clusters, level)))
    return found


@dataclass(frozen=True)
class _Curve:
    """One group's curve. failing, end, begin: of each row, its own failure time and those it is at risk at, numbered.

    survival: by failure time; reach: Σ d / (Y (Y − d)) before each of them, which is Greenwood's sum; hazard_left: 1 / (Y − d)
    at the failure time of each failing row, else 0.
    """

    by: tuple
    level: float
    time: np.ndarray
    survival: np.ndarray
    hazard_left: np.ndarray
    reach: np.ndarray
    failing: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    entry: np.ndarray
    at: np.ndarray
    count: np.ndarray
    cluster: np.ndarray

    @property
    def cluster_count(self) -> int:
        return int(self.cluster.max()) + 1

    def share(self, time: float) -> tuple[Estimate, int, float | None]:
        """Return the share just after a time with its limits, the clusters and the design effect."""
        past = int(np.searchsorted(self.time, time, side="right"))
        share = float(self.survival[past - 1]) if past else 1.0
        # Everyone at risk failed together, or nobody yet: no variance, so clusters are counted.
        is_seen = self.failing < past if share == 0 else (self.entry <= time) & (self.at >= time)
        seen = len(np.unique(self.cluster[is_seen])) if share in (0.0, 1.0) else 0
        if (share > 0 and time > self.at.max()) or (share == 1 and not seen):
            return Estimate.refused(Because.NO_FOLLOW_UP), self.cluster_count, None
        plain, robust = share**2 * self.reach[past], share**2 * self._robust(past)
        return _limits(share, plain, robust, self.cluster_count, seen, self.level)

    def _robust(self, past: int) -> float:
        """Return the sum over clusters of the squared influence on the log of the curve after `past` failure times."""
        influence = self.reach[np.minimum(self.end, past)] - self.reach[np.minimum(self.begin, past)]
        influence -= np.where(self.failing < past, self.hazard_left, 0.0)
        return float((np.bincount(self.cluster, weights=self.count * influence) ** 2).sum())

    def life(self, target: float) -> Estimate:
        """Return the first failure time at which the curve, and its limits, are down to the target."""
        if not len(self.time):
            return Estimate.refused(Because.NO_FAILURES)
        reached = np.flatnonzero(self.survival <= target + SHARE_TOLERANCE)
        estimate = float(self.time[reached[0]]) if len(reached) else None
        if self.cluster_count < LEAST_CLUSTERS:
            return Estimate(estimate, None, None, Because.TOO_FEW_CLUSTERS if len(reached) else Because.NOT_REACHED)
        low, high = (self._first(lambda one, side=side: getattr(one, side), target) for side in ("low", "high"))
        if estimate is None:
            return Estimate(None, low, None, Because.NOT_REACHED)
        return Estimate.within(estimate, low, high)

    def _first(self, side: Callable[[Estimate], float | None], target: float) -> float | None:
        """Return the first failure time at which a limit is down to the target; it may rise again where few are left."""

        def is_down(place: int) -> bool:
            limit = side(self.share(float(self.time[place]))[0])
            return limit is not None and limit <= target + SHARE_TOLERANCE

        grid = np.unique(np.linspace(0, len(self.time) - 1, COARSE_STEPS).astype(int))
        before, first = -1, next((int(place) for place in grid if is_down(int(place))), None)
        if first is None:
            return None
        before = int(max(grid[grid < first], default=-1))
        while first - before > 1:
            middle = (first + before) // 2
            before, first = (before, middle) if is_down(middle) else (middle, first)
        return float(self.time[first])


def _curves(spells: pd.DataFrame, *, by: Sequence[str], level: float) -> list[_Curve]:
    """Return each group's curve, in sorted order."""
    normal_quantile(level)
    require_columns(spells, ["cluster", "entry", "at", "is_failure", "spell_count"])
    count = whole_counts(spells, "spell_count")
    spells, count = spells[count > 0], count[count > 0].astype(float)
    entry, at = times(spells, "entry"), times(spells, "at")
    require(np.isfinite(at) & (entry < at), "A spell ends nowhere, or has no length", "Leave such spells out.")
    groups, is_failure = group([spells], by=by), spells["is_failure"].to_numpy(dtype=bool)
    clusters = group([spells], by=["cluster"]).codes[0]
    curves = []
    order = np.argsort(groups.codes[0], kind="stable")
    bounds = np.searchsorted(groups.codes[0][order], np.arange(groups.count + 1))
    for number, values in enumerate(groups.tuples()):
        mine = order[bounds[number] : bounds[number + 1]]
        _, cluster = np.unique(clusters[mine], return_inverse=True)
        curves.append(_curve(values, level, entry[mine], at[mine], is_failure[mine], count[mine], cluster))
    return curves


def _curve(values, level, entry, at, is_failure, count, cluster) -> _Curve:
    events = CoxSpells(entry, at, is_failure, count, np.zeros((len(at), 0)), np.zeros(len(at), dtype=np.int64)).events
    number, failed = len(events.time), events.failed
    steps = (np.bincount(place, weights=count, minlength=number + 1) for place in (events.begin, events.end))
    at_risk = np.cumsum(next(steps) - next(steps))[:number]
    left = at_risk - failed
    survival = np.cumprod(left / at_risk)
    # Once everyone at risk has failed the curve is 0 for good, and no variance is asked for.
    hazard_left = np.where(left > 0, 1 / np.maximum(left, 1), 0.0)
    reach = np.append(0.0, np.cumsum(failed * hazard_left / np.maximum(at_risk, 1)))
    failing, own = np.full(len(at), number), np.zeros(len(at))
    failing[is_failure], own[is_failure] = events.of_failure, hazard_left[events.of_failure]
    return _Curve(values, level, events.time, survival, own, reach, failing, events.begin, events.end, entry, at, count, cluster)


def _limits(
    share: float, plain: float, robust: float, clusters: int, seen: int, level: float
) -> tuple[Estimate, int, float | None]:
    """Return the share with Wilson's limits at the effective number, the clusters, and the design effect.

    plain, robust: both variances, the second without its correction; seen: the effective number where the share is 0 or 1.
    The wider of two: by cluster with Student's t, and by independent spells with the normal quantile.
    """
    if clusters < LEAST_CLUSTERS:
        return Estimate(share, None, None, Because.TOO_FEW_CLUSTERS), clusters, None
    from scipy.special import stdtrit

    q = float(stdtrit(clusters - 1, (1 + level) / 2))
    robust *= clusters / (clusters - 1)
    is_end = share <= 0 or share >= 1
    if is_end:
        both = [score_limits(share, seen, q)]
    else:
        spread = share * (1 - share)
        both = [score_limits(share, spread / variance, by) for variance, by in ((robust, q), (plain, normal_quantile(level)))
                if variance > 0]  # fmt: skip
    limits = min(low for low, _ in both), max(high for _, high in both)
    return Estimate(share, *limits), clusters, None if is_end else float(robust / plain)
