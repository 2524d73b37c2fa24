"""Kaplan–Meier curves with late entry, fitted by lifelines from counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import pandas as pd

from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.risk_table import RiskTable, fitted_by_lifelines, risk_tables
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
    normal_quantile(level)
    groups, tables = risk_tables(spells, by=by, entries=entries)
    curves = [_curve(table, level=level) for table in tables]
    if not curves:
        return pd.DataFrame(columns=[*by, *CURVE_COLUMNS])
    rows = pd.concat(curves, ignore_index=True)
    owner = np.repeat(np.arange(groups.count), [len(one) for one in curves])
    return pd.concat([groups.keys.take(owner).reset_index(drop=True), rows], axis=1)


def _curve(table: RiskTable, *, level: float) -> pd.DataFrame:
    """Return one group's curve, rows as in `survival`, without `by`."""
    at_risk = table.at_risk()
    is_end = table.failed == at_risk
    # Once everyone at risk has failed the plain curve is 0 for good; lifelines refuses such a table, so it gets
    # the part up to there.
    alive = int(np.argmax(is_end)) + 1 if is_end.any() else len(table.at)
    share, low, high = fitted_by_lifelines(table, alive, level=level)
    zeros, unknown = np.zeros(len(table.at) - alive), np.full(len(table.at) - alive, np.nan)
    share = np.concatenate([[1.0], share, zeros])
    low = np.where(share == 1, 1.0, np.where(share == 0, np.nan, np.concatenate([[1.0], low, unknown])))
    high = np.where(share == 1, 1.0, np.where(share == 0, np.nan, np.concatenate([[1.0], high, unknown])))
    from_start = int(table.entered[table.entry == 0].sum())
    return pd.DataFrame(
        {
            "at": np.append(0.0, table.at),
            "surviving_share": share,
            "low": low,
            "high": high,
            "at_risk": np.append(from_start, at_risk),
            "failed": np.append(0, table.failed),
            "censored": np.append(0, table.censored),
        }
    )


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
