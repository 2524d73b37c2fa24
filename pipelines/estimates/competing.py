"""Cumulative incidence of each failure mechanism where the others end the life too (Aalen–Johansen), from counts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns, whole_counts
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.risk_table import RiskTable, risk_tables

#: The mechanism of a failure for which the log gives none.
NOT_RECORDED = "not_recorded"

#: A sum of shares this close to 1 is 1.
ROUNDING = 1e-12

INCIDENCE_COLUMNS = ["mechanism", "at", "failed_share", "low", "high", "at_risk", "failed"]


def cumulative_incidence(
    spells: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, entries: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Estimate the share that has failed of each mechanism by each time, for each group.

    spells: counts per `by`, `entry`, `at`, `mechanism`, `spell_count`, times as in `survival`. A null mechanism is a
    censored spell; where there is a column `is_failure` it decides instead, and a failure without a mechanism counts
    under `NOT_RECORDED`. entries: late entries counted apart, as in `survival`.
    Returns for each group and each mechanism seen in any group one row at 0 and at each distinct exit: `by`,
    `mechanism`, `at`, `failed_share`, `low`, `high`, `at_risk` (just before), `failed` (of this mechanism, then).
    The shares of a group's mechanisms and its Kaplan–Meier curve add up to 1 at every time. Both limits are 0 before the
    first failure of the mechanism, and NaN where its share is 1. No failures at all give no rows.
    Raises InputError.   Source: Aalen & Johansen (1978); variance: Greenwood type, by the delta method over the
    multinomial steps (Andersen et al. 1993, IV.4, from memory), which without late entry is the infinitesimal jackknife
    and for all mechanisms together is Greenwood's; limits: log-minus-log of the share (Choudhury 2002, from memory).
    """
    z = normal_quantile(level)
    require_columns(spells, ["at", "mechanism", "spell_count"])
    spells = spells[whole_counts(spells, "spell_count") > 0]
    names, mechanism = mechanism_codes(spells)
    groups, tables = risk_tables(spells.assign(is_failure=mechanism >= 0), by=by, entries=entries)
    if not len(names):
        return pd.DataFrame(columns=[*by, *INCIDENCE_COLUMNS])
    blocks = []
    for table, failed in zip(tables, _failed(spells, mechanism, groups.codes[0], tables, len(names)), strict=True):
        blocks.append(_incidence(table, failed, z=z))
    width = np.array([len(table.at) + 1 for table in tables])
    keys = groups.keys.take(np.repeat(np.arange(groups.count), width * len(names))).reset_index(drop=True)
    mechanisms = np.concatenate([np.repeat(names, rows) for rows in width])
    rows = pd.DataFrame(dict(zip(INCIDENCE_COLUMNS[1:], map(np.concatenate, zip(*blocks, strict=True)), strict=True)))
    return pd.concat([keys, pd.DataFrame({"mechanism": mechanisms}), rows], axis=1)


def mechanism_codes(spells: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return the mechanisms seen, sorted, and for each row the place of its own, -1 for a censored spell."""
    given = spells["mechanism"].astype(object)
    if "is_failure" in spells:
        is_failure = spells["is_failure"].to_numpy(dtype=bool)
        require(is_failure | given.isna().to_numpy(), "A spell without failure has a mechanism", "Leave it blank there.")
        given = given.mask(is_failure & given.isna(), NOT_RECORDED)
    code, names = pd.factorize(given, sort=True)
    return np.asarray(names), code


def _failed(spells, mechanism, code, tables: list[RiskTable], mechanism_count: int) -> list[np.ndarray]:
    """Return for each group how many failed of each mechanism (rows) at each exit time (columns)."""
    is_failure = mechanism >= 0
    order = np.flatnonzero(is_failure)[np.argsort(code[is_failure], kind="stable")]
    at, count = spells["at"].to_numpy(dtype=float)[order], spells["spell_count"].to_numpy(dtype=float)[order]
    bounds = np.searchsorted(code[order], np.arange(len(tables) + 1))
    found = []
    for table, start, stop in zip(tables, bounds[:-1], bounds[1:], strict=True):
        width = len(table.at)
        cell = mechanism[order[start:stop]] * width + np.searchsorted(table.at, at[start:stop])
        sums = np.bincount(cell, weights=count[start:stop], minlength=mechanism_count * width)
        found.append(sums.astype(np.int64).reshape(mechanism_count, width))
    return found


def _incidence(table: RiskTable, failed: np.ndarray, *, z: float) -> tuple[np.ndarray, ...]:
    """Return the columns from `at` on for one group, mechanism after mechanism."""
    at_risk = table.at_risk()
    chance, all_chance = failed / at_risk, table.failed / at_risk
    surviving = np.append(1.0, np.cumprod(1 - all_chance))
    before = surviving[:-1]
    share = np.cumsum(before * chance, axis=1)
    share[share > 1 - ROUNDING] = 1.0
    spread = z * np.sqrt(_variance(before, share, chance, all_chance, at_risk))
    low, high = _limits(share, spread)
    start = int(table.entered[table.entry == 0].sum())
    columns = [
        np.broadcast_to(np.append(0.0, table.at), (len(failed), len(table.at) + 1)),
        *(np.pad(one, ((0, 0), (1, 0))) for one in (share, low, high)),
        np.broadcast_to(np.append(start, at_risk), (len(failed), len(table.at) + 1)),
        np.pad(failed, ((0, 0), (1, 0))),
    ]
    return tuple(column.ravel() for column in columns)


def _variance(before, share, chance, all_chance, at_risk) -> np.ndarray:
    """Return the variance of each share.

    A step at s moves the share F(t) by S(s−)·dλ for the mechanism itself and by −(F(t) − F(s))/(1 − λ)·dλ for every
    failure; the multinomial variances of the steps add up. Written as a parabola in F(t), it takes running sums only.
    """
    lasting = (all_chance < 1) & (before > 0)
    loss = np.where(lasting, all_chance / np.where(lasting, 1 - all_chance, 1.0), 0.0) / at_risk
    own = before * chance / at_risk
    constant = np.cumsum(own * before * (1 - chance) + 2 * own * share + loss * share**2, axis=1)
    slope = np.cumsum(own + loss * share, axis=1)
    return np.maximum(constant - 2 * share * slope + share**2 * np.cumsum(loss), 0.0)


def _limits(share: np.ndarray, spread: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    is_between = (share > 0) & (share < 1)
    inside = np.where(is_between, share, 0.5)
    log = np.log(inside)
    factor = np.exp(spread / (inside * -log))
    outside = np.where(share <= 0, 0.0, np.nan)
    return np.where(is_between, np.exp(log * factor), outside), np.where(is_between, np.exp(log / factor), outside)
