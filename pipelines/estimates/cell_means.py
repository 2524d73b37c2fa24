"""Means of families by fate: each cell borrows from its family and its fate as far as it has few units of its own."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns, whole_counts
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import Amount
from pipelines.vocabulary import Because

#: Families and cells are taken to differ by at least this share of their mean, and by the other where too few can be compared.
LEAST_SPREAD, UNKNOWN_SPREAD = 0.05, 0.3
SWEEPS = 50


def cell_means(rows: pd.DataFrame, families: Sequence[Hashable]) -> Amount | Because:
    """Estimate the mean amount of a unit by family and fate, (families, FATES), with standard errors and SDs from unit to unit.

    rows: `family`, `fate`, `n` units, their `mean` (from 0) and `sd` (null: not known), at most one row a cell; of all families,
    also those not asked for. A cell is shrunk towards family × fate (a table of independent margins), and the margin of a family
    towards the average one, each by how much such means differ beyond the luck of units. A family never seen is told by the
    others, and its standard error holds how much families differ. An unknown SD is the pooled coefficient of variation times
    the mean. Without units: `no_past_lots`. Raises InputError on a broken count or a negative mean.
    Source: credibility weights n / (n + K), K = variance within / between, Bühlmann & Straub (1970); margins by iterative
    proportional fitting (both from memory).
    """
    require_columns(rows, ["family", "fate", "n", "mean", "sd"])
    count = whole_counts(rows, "n").astype(float)
    mean = rows["mean"].to_numpy(dtype=float)
    require((count == 0) | (mean >= 0), "`mean` is negative or missing", "Give means from 0 wherever there are units.")
    if not count.sum():
        return Because.NO_PAST_LOTS
    known = sorted(set(rows["family"]) | set(families), key=str)
    at = [known.index(one) for one in rows["family"]], [FATES.index(one) for one in rows["fate"]]
    n, own, sd = np.zeros((len(known), len(FATES))), np.zeros((len(known), len(FATES))), np.full((len(known), len(FATES)), np.nan)
    n[at], own[at], sd[at] = count, np.where(count > 0, mean, 0), rows["sd"].to_numpy(dtype=float)
    variation = _pooled_variation(n, own, sd)
    family, fate, cell_sd = _margins(n, own, variation)
    # What a margin is off by: the luck of its units, and that of its cells, which differ beyond the margins.
    family_off, fate_off = (_off(n, variation, cell_sd, axis=axis) for axis in (1, 0))
    size = n.sum(axis=1, keepdims=True)
    average = float((family * size).sum() / size.sum())
    family_sd = _family_sd(size, _ratio(family, np.full_like(family, average)) - 1, family_off)
    family_weight = family_sd**2 / (family_sd**2 + family_off)
    told = (family_weight * family + (1 - family_weight) * average) * fate
    average_off = (family_sd * (1 - family_weight)) ** 2 * float((size**2).sum() / size.sum() ** 2)
    fate_off = np.where(np.isfinite(fate_off), fate_off, UNKNOWN_SPREAD**2)
    margin_off = family_sd**2 * (1 - family_weight) + average_off + fate_off
    weight = n * cell_sd**2 / np.maximum(n * cell_sd**2 + variation**2, 1e-12)
    found = weight * own + (1 - weight) * told
    error = np.sqrt(cell_sd**2 * (1 - weight) + (1 - weight) ** 2 * margin_off) * found
    borrowed = (variation / cell_sd) ** 2
    unit_sd = variation * found
    unit_sd = np.where((n > 1) & np.isfinite(sd), (n * sd + borrowed * unit_sd) / np.maximum(n + borrowed, 1), unit_sd)
    shown = [known.index(one) for one in families]
    return Amount(found[shown], error[shown], unit_sd[shown])


def _margins(n: np.ndarray, own: np.ndarray, variation: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Return amounts by family and by fate (their product is a cell's), and by which share of it cells differ from it.

    A margin never seen is an average one.
    """
    size, seen, total = n.sum(axis=1, keepdims=True), n.sum(axis=0, keepdims=True), n * own
    family, fate = np.ones((len(n), 1)), np.ones((1, n.shape[1]))
    for _ in range(SWEEPS):
        fate = _ratio(total.sum(axis=0, keepdims=True), (n * family).sum(axis=0, keepdims=True))
        family = _ratio(total.sum(axis=1, keepdims=True), (n * fate).sum(axis=1, keepdims=True))
    fate = np.where(seen > 0, fate, (fate * seen).sum() / seen.sum())
    away = np.where(n > 0, _ratio(own, family * fate) - 1, 0.0)
    cells, fitted = (n > 0).sum(), (size > 0).sum() + (seen > 0).sum() - 1
    if cells <= fitted:
        return family, fate, UNKNOWN_SPREAD
    found = (away**2 * n).sum() / n.sum() * cells / (cells - fitted) - variation**2 * cells / n.sum()
    return family, fate, float(np.sqrt(max(found, LEAST_SPREAD**2)))


def _off(n: np.ndarray, variation: float, cell_sd: float, *, axis: int) -> np.ndarray:
    """Return the relative variance of margins; infinite where there is nothing."""
    size = n.sum(axis=axis, keepdims=True)
    part = n / np.maximum(size, 1)
    off = variation**2 / np.maximum(size, 1) + cell_sd**2 * (part**2).sum(axis=axis, keepdims=True)
    return np.where(size > 0, off, np.inf)


def _family_sd(size: np.ndarray, away: np.ndarray, off: np.ndarray) -> float:
    """Return by which share of the average one families differ, beyond what their margins are off by."""
    seen = size > 0
    share = size[seen] / size.sum()
    left = 1 - (share**2).sum()
    if left <= 0:
        return UNKNOWN_SPREAD
    found = (share * (away[seen] ** 2 - off[seen])).sum() / left
    return float(np.sqrt(max(found, LEAST_SPREAD**2)))


def _ratio(of: np.ndarray, by: np.ndarray) -> np.ndarray:
    return np.where(by > 0, of / np.where(by > 0, by, 1), 0.0)


def _pooled_variation(n: np.ndarray, own: np.ndarray, sd: np.ndarray) -> float:
    """Return the coefficient of variation from unit to unit within cells, pooled."""
    told = np.isfinite(sd) & (n > 1) & (own > 0)
    freedom = (n[told] - 1).sum()
    if not freedom:
        return UNKNOWN_SPREAD
    return float(np.sqrt(((n[told] - 1) * (sd[told] / own[told]) ** 2).sum() / freedom))
