"""Gray's test: does one failure mechanism come at the same pace in every group, where other mechanisms end lives too?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.competing import mechanism_codes
from pipelines.estimates.counts import require_columns, times, whole_counts
from pipelines.estimates.risk_table import risk_tables
from pipelines.vocabulary import Because

#: The covariance grows with the cube of the groups; and nobody reads a test over more.
MOST_GROUPS = 100
#: An eigenvalue this much smaller than the largest is 0 but for rounding.
RANK_TOLERANCE = 1e-9


@dataclass(frozen=True)
class GrayTest:
    """groups, failures: how many were compared, and failures of the mechanism in them; statistic: chi-squared with
    `degrees_of_freedom`; p_value: the chance of one as large where the groups are alike. The three are None where nothing
    can be said, and `because` says why."""

    groups: int
    failures: int
    statistic: float | None
    degrees_of_freedom: int | None
    p_value: float | None
    because: Because | None = None


@dataclass(frozen=True)
class _Steps:
    """What happens at each failure time (rows) in each group (columns): at risk just before, failed of this mechanism and
    of others; the Kaplan–Meier curve just before and just after; the share failed of this mechanism just before."""

    at_risk: np.ndarray
    failed: np.ndarray
    others: np.ndarray
    before: np.ndarray
    after: np.ndarray
    share_before: np.ndarray


def gray_test(counts: pd.DataFrame, *, group: str, mechanism: object) -> GrayTest:
    """Test whether the cumulative incidence of one mechanism is the same in all groups (Gray's test, rho = 0).

    counts: per `group` (a null is a group), `at`, `mechanism`, `spell_count`; mechanism and `is_failure` as in
    `cumulative_incidence`. The degrees of freedom are the groups less one, fewer where a group was never at risk together
    with another when this mechanism struck.
    Refused: `late_entry` where an `entry` is above 0, for which the test is not defined; `no_spells`; `one_level`;
    `no_failures` of the mechanism; `no_common_age` where no two groups were at risk at one of them.
    Raises InputError, also for more than 100 groups.   Source: Gray (1988), Annals of Statistics 16:1141–1154.
    """
    require_columns(counts, [group, "at", "mechanism", "spell_count"])
    counts = counts[whole_counts(counts, "spell_count") > 0]
    if "entry" not in counts:
        counts = counts.assign(entry=0.0)
    names, code = mechanism_codes(counts)
    groups, tables = risk_tables(counts.assign(is_failure=code >= 0), by=[group], entries=None)
    is_mine = (code >= 0) & (np.append(names == mechanism, False)[code] if len(names) else False)
    count = counts["spell_count"].to_numpy(dtype=float)
    size = (groups.count, int(count[is_mine].sum()))
    if groups.count > MOST_GROUPS:
        raise InputError(f"Gray's test over {groups.count} groups says nothing.", f"Compare {MOST_GROUPS} groups or fewer.")
    if (times(counts, "entry") > 0).any():
        return GrayTest(*size, None, None, None, Because.LATE_ENTRY)
    if groups.count < 2:
        return GrayTest(*size, None, None, None, Because.ONE_LEVEL if groups.count else Because.NO_SPELLS)
    if not size[1]:
        return GrayTest(*size, None, None, None, Because.NO_FAILURES)
    at = np.unique(counts["at"].to_numpy(dtype=float)[code >= 0])
    at_risk = np.column_stack([_at_risk(table, at) for table in tables])
    cell = np.searchsorted(at, counts["at"].to_numpy(dtype=float)) * groups.count + groups.codes[0]
    mine, others = (
        np.bincount(cell[rows], weights=count[rows], minlength=at_risk.size).reshape(at_risk.shape)
        for rows in (is_mine, (code >= 0) & ~is_mine)
    )
    score, covariance = _score(_steps(at_risk, mine, others))
    return _tested(size, score, covariance)


def _at_risk(table, at: np.ndarray) -> np.ndarray:
    gone = np.append(0, np.cumsum(table.removed))
    return gone[-1] - gone[np.searchsorted(table.at, at, side="left")]


def _steps(at_risk: np.ndarray, failed: np.ndarray, others: np.ndarray) -> _Steps:
    someone = np.maximum(at_risk, 1)
    after = np.cumprod(1 - (failed + others) / someone, axis=0)
    before = np.vstack([np.ones(at_risk.shape[1]), after[:-1]])
    share = np.cumsum(before * failed / someone, axis=0)
    return _Steps(at_risk, failed, others, before, after, share - before * failed / someone)


def _score(steps: _Steps) -> tuple[np.ndarray, np.ndarray]:
    """Return the score of each group, failures less those expected if all were alike, and its covariance."""
    present = steps.at_risk > 0
    # Without anyone at risk a group has no weight; where the curve fell to 0 nobody is at risk any more.
    weight = np.where(present, steps.at_risk / np.where(present, steps.before, 1.0), 0.0)
    total, struck = weight.sum(axis=1), steps.failed.sum(axis=1)
    pooled = np.cumsum(struck / total)
    pooled_before = np.append(0.0, pooled[:-1])
    # With one group left nothing is compared. The pooled share may pass 1 once whole groups are gone; the test ends there.
    used = int(np.argmin(np.append((present.sum(axis=1) > 1) & (pooled_before < 1), False)))
    expected = weight * (1 - steps.share_before)
    score = (steps.failed - expected * (struck / expected.sum(axis=1))[:, None])[:used].sum(axis=0)
    return score, _covariance(steps, weight, total, struck, pooled, pooled_before, used)


def _covariance(steps, weight, total, struck, pooled, pooled_before, used: int) -> np.ndarray:
    """Return the covariance of the scores (Gray 1988, the estimate of his section 4 with its corrections for ties).

    Column k of the compensated weights is the weight of group k's martingale in each score; what the score still takes
    from the pooled curve later on comes back through the failures of now.
    """
    group_count = weight.shape[1]
    weight, total, struck, before, after, at_risk, others = (
        one[:used] for one in (weight, total, struck, steps.before, steps.after, steps.at_risk, steps.others)
    )
    pace = struck / (total * (1 - pooled_before[:used]))
    left = np.where(after > 0, (1 - pooled[:used])[:, None] / np.where(after > 0, after, 1.0), 0.0)
    ties = 1 - np.maximum(struck - 1, 0)[:, None] / np.maximum(total[:, None] * before - 1, 1e-300)
    safe = np.maximum(at_risk, 1)
    mine_spread = np.where(at_risk > 0, ties * before * (struck / total)[:, None] / safe, 0.0)
    other_ties = 1 - np.maximum(others - 1, 0) / np.maximum(at_risk - 1, 1)
    other_spread = np.where(after > 0, other_ties * others * before**2 / safe**2, 0.0)
    covariance = np.zeros((group_count, group_count))
    for k in range(group_count):
        mine = -weight * (weight[:, [k]] / total[:, None])
        mine[:, k] += weight[:, k]
        moved = mine * pace[:, None]
        later = np.cumsum(moved[::-1], axis=0)[::-1] - moved
        pull = mine + (1 - left[:, [k]]) * later
        covariance += pull.T @ (mine_spread[:, [k]] * pull)
        push = left[:, [k]] * later
        covariance += push.T @ (other_spread[:, [k]] * push)
    return covariance


def _tested(size: tuple[int, int], score: np.ndarray, covariance: np.ndarray) -> GrayTest:
    from scipy.special import chdtrc

    values, vectors = np.linalg.eigh(covariance)
    is_free = values > RANK_TOLERANCE * max(values[-1], 0.0)
    degrees = int(is_free.sum())
    if not degrees:
        return GrayTest(*size, None, None, None, Because.NO_COMMON_AGE)
    statistic = float(((score @ vectors[:, is_free]) ** 2 / values[is_free]).sum())
    return GrayTest(*size, statistic, degrees, float(chdtrc(degrees, statistic)))
