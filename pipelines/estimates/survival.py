"""Kaplan–Meier curves with late entry, fitted by lifelines from counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import require_columns, times, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.product_limit import product_limits
from pipelines.estimates.proportion import normal_quantile, score_limits
from pipelines.estimates.risk_table import RiskTable, risk_tables
from pipelines.vocabulary import Because

#: A share counts as reached within this much, so that rounding never moves a median by a whole step.
SHARE_TOLERANCE = 1e-9
#: The early-risk guard: draw where at least 10, and at least 5 % of the group, are at risk.
GUARD_COUNT, GUARD_SHARE = 10, 0.05

CURVE_COLUMNS = ["at", "surviving_share", "low", "high", "at_risk", "failed", "censored"]


@dataclass(frozen=True)
class DrawnCurve:
    """A curve with `is_drawn`; `drawn_from` is None where too few are ever at risk to draw anything."""

    curve: pd.DataFrame
    drawn_from: float | None
    min_at_risk: int


def survival(
    spells: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, entries: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Estimate the share still free of failure after each time, for each group.

    spells: counts per `by`, `entry`, `at` (0 <= entry < at, in the clock's unit), `is_failure`, `spell_count`.
    entries: where late entries are counted apart, counts per `by`, `entry` (> 0), `spell_count`; `spells` then has
    no `entry`, and everyone in it who is not in `entries` entered at 0.
    Returns one row per group at 0 and at each distinct exit: `by`, `at`, `surviving_share`, `low`, `high`, `at_risk`,
    `failed`, `censored`. `at_risk` counts entry < at <= exit (who enters at a failure time is not at risk then), and at
    0 those who entered at 0. Limits are NaN where the curve is 0, and 1 where it is 1. Where everyone at risk fails
    while others are still to enter, the curve drops to 0 and stays there. No rows give no rows.
    Raises InputError.   Source: Kaplan & Meier (1958); limits: log-minus-log, Greenwood.
    """
    z = normal_quantile(level)
    groups, tables = risk_tables(spells, by=by, entries=entries)
    if not tables:
        return pd.DataFrame(columns=[*by, *CURVE_COLUMNS])
    at_risk = [table.at_risk() for table in tables]
    shares = product_limits(at_risk, [table.failed for table in tables])
    curves = [_curve(table, n, share, z=z) for table, n, share in zip(tables, at_risk, shares, strict=True)]
    rows = pd.DataFrame({name: np.concatenate([one[name] for one in curves]) for name in CURVE_COLUMNS})
    owner = np.repeat(np.arange(groups.count), [len(one["at"]) for one in curves])
    return pd.concat([groups.keys.take(owner).reset_index(drop=True), rows], axis=1)


def _curve(table: RiskTable, at_risk: np.ndarray, share: np.ndarray, *, z: float) -> dict[str, np.ndarray]:
    """Return one group's curve, columns as in `survival`, with its first row at 0."""
    low, high = _limits(share, at_risk, table.failed, z=z)
    return {
        "at": np.append(0.0, table.at),
        "surviving_share": np.append(1.0, share),
        "low": np.append(1.0, low),
        "high": np.append(1.0, high),
        "at_risk": np.append(int(table.entered[table.entry == 0].sum()), at_risk),
        "failed": np.append(0, table.failed),
        "censored": np.append(0, table.censored),
    }


def _limits(share: np.ndarray, at_risk: np.ndarray, failed: np.ndarray, *, z: float) -> tuple[np.ndarray, np.ndarray]:
    """Return log-minus-log limits with Greenwood's variance: 1 where the curve is 1, NaN where it is 0."""
    inside = (share > 0) & (share < 1)
    left = np.where(failed < at_risk, at_risk - failed, 1)
    variance = np.cumsum(failed / (at_risk * left.astype(float)))
    log_share = np.log(share, where=inside, out=np.full(len(share), -1.0))
    factor = np.exp(z * np.sqrt(variance) / -log_share)
    ends = np.where(share == 0, np.nan, 1.0)
    return np.where(inside, share**factor, ends), np.where(inside, share ** (1 / factor), ends)


def quantile(curve: pd.DataFrame, *, share: float) -> Estimate:
    """Return the time by which `share` have failed: 0.1 for B10, 0.5 for the median.

    curve: one group's rows of `survival`. The estimate is the first time at which the curve is <= 1 − share (+1e-9);
    the limits are where the curve's own limits get there. `not_reached`, `limit_not_reached` where they do not.
    """
    low, estimate, high = (_first_time(curve, column, 1 - share) for column in ("low", "surviving_share", "high"))
    if estimate is None:
        return Estimate(None, low, None, Because.NOT_REACHED)
    return Estimate.within(estimate, low, high)


def _first_time(curve: pd.DataFrame, column: str, share: float) -> float | None:
    is_reached = curve[column].to_numpy() <= share + SHARE_TOLERANCE
    return float(curve["at"].to_numpy()[np.argmax(is_reached)]) if is_reached.any() else None


def share_at(curve: pd.DataFrame, spells: pd.DataFrame, *, age: float, level: float = 0.95) -> tuple[Estimate, int]:
    """Return the share still free of failure just after an age, and how many are at risk then.

    curve: one group's rows of `survival`; spells: its counts, `entry`, `at`, `spell_count`; age above 0, in the clock's
    unit; level: that of the curve. The limits are the curve's own; where it is 1 or 0 those are none, and Wilson's stand
    for them, of those at risk or of those who failed (as in `durable`). `not_reached` beyond the last exit, unless the
    curve is 0, and where nobody was at risk yet.
    Raises InputError.
    """
    z = normal_quantile(level)
    if not 0 < age < np.inf:
        raise InputError(f"The share still good is asked for at {age}, which is no age.", "Ask for an age above 0.")
    require_columns(spells, ["entry", "at", "spell_count"])
    if not len(curve):
        return Estimate.refused(Because.NO_SPELLS), 0
    is_there = (times(spells, "entry") < age) & (times(spells, "at") >= age)
    at_risk = int(whole_counts(spells, "spell_count")[is_there].sum())
    last = int(np.searchsorted(curve["at"].to_numpy(), age, side="right")) - 1
    share, low, high = (float(curve[name].to_numpy()[last]) for name in ("surviving_share", "low", "high"))
    known = int(curve["failed"].to_numpy()[: last + 1].sum()) if share == 0 else at_risk
    if (share > 0 and age > curve["at"].to_numpy()[-1]) or (share == 1 and not known):
        return Estimate.refused(Because.NOT_REACHED), at_risk
    if 0 < share < 1:
        return Estimate(share, low, high), at_risk
    return Estimate(share, *score_limits(share, known, z)), at_risk


def drawn(curve: pd.DataFrame, *, spell_count: int, min_at_risk: int | None = None) -> DrawnCurve:
    """Say which rows of one group's curve are worth drawing: where enough are at risk.

    curve: one group's rows of `survival`; spell_count: the group's spells. `min_at_risk` defaults to 10 or 5 % of the
    spells, whichever is more. Rows from the first to the last with that many at risk get `is_drawn`. The curve itself
    is not changed: what is drawn holds given that the age `drawn_from` was reached.
    """
    if min_at_risk is None:
        min_at_risk = max(GUARD_COUNT, ceil(GUARD_SHARE * spell_count))
    enough = np.flatnonzero(curve["at_risk"].to_numpy() >= min_at_risk)
    is_drawn = np.zeros(len(curve), dtype=bool)
    if not len(enough):
        return DrawnCurve(curve.assign(is_drawn=is_drawn), None, min_at_risk)
    is_drawn[enough[0] : enough[-1] + 1] = True
    return DrawnCurve(curve.assign(is_drawn=is_drawn), float(curve["at"].to_numpy()[enough[0]]), min_at_risk)
