"""Means of families by fate: each cell borrows from its family and its fate as far as it has few units of its own."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns, whole_counts
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_value import Amount
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
    told, family_sd = _margins(n, own, variation)
    cell_sd = _spread(n[n > 0], _departure(own, told)[n > 0], variation)
    shown = [known.index(one) for one in families]
    of_family = n[shown].sum(axis=1, keepdims=True)
    n, own, sd, told = n[shown], own[shown], sd[shown], told[shown]
    borrowed, of_others = _borrowed_units(variation, cell_sd), _borrowed_units(variation, family_sd)
    weight = n / (n + borrowed)
    found = weight * own + (1 - weight) * told
    unit_sd = np.where((n > 1) & np.isfinite(sd), (n * sd + borrowed * variation * found) / (n + borrowed), variation * found)
    # What is left of the variance between after n units is between · K / (n + K).
    left = cell_sd**2 * (1 - weight) + (1 - weight) ** 2 * family_sd**2 * of_others / (of_family + of_others)
    return Amount(found, np.sqrt(left) * found, unit_sd)


def _margins(n: np.ndarray, own: np.ndarray, variation: float) -> tuple[np.ndarray, float]:
    """Return family × fate amounts, families shrunk to the average one, and by which share of it families differ."""
    size, seen, total = n.sum(axis=1, keepdims=True), n.sum(axis=0, keepdims=True), n * own
    family, fate = np.ones((len(n), 1)), np.ones((1, n.shape[1]))
    for _ in range(SWEEPS):
        fate = _ratio(total.sum(axis=0, keepdims=True), (n * family).sum(axis=0, keepdims=True))
        family = _ratio(total.sum(axis=1, keepdims=True), (n * fate).sum(axis=1, keepdims=True))
    average = float((family * size).sum() / size.sum())
    family_sd = _spread(size[size > 0], (_ratio(family, np.full_like(family, average)) - 1)[size > 0], variation)
    weight = size / (size + _borrowed_units(variation, family_sd))
    family = weight * family + (1 - weight) * average
    fate = np.where(seen > 0, fate, (fate * seen).sum() / seen.sum())
    return family * fate, family_sd


def _borrowed_units(within: float, between: float) -> float:
    """Return as how many units of its own the others count."""
    return (within / between) ** 2


def _departure(own: np.ndarray, told: np.ndarray) -> np.ndarray:
    return np.where(told > 0, own / np.where(told > 0, told, 1) - 1, 0.0)


def _ratio(of: np.ndarray, by: np.ndarray) -> np.ndarray:
    return np.where(by > 0, of / np.where(by > 0, by, 1), 0.0)


def _pooled_variation(n: np.ndarray, own: np.ndarray, sd: np.ndarray) -> float:
    """Return the coefficient of variation from unit to unit within cells, pooled."""
    told = np.isfinite(sd) & (n > 1) & (own > 0)
    freedom = (n[told] - 1).sum()
    if not freedom:
        return UNKNOWN_SPREAD
    return float(np.sqrt(((n[told] - 1) * (sd[told] / own[told]) ** 2).sum() / freedom))


def _spread(n: np.ndarray, away: np.ndarray, variation: float) -> float:
    """Return the SD of relative departures beyond the luck of n units each."""
    if len(n) < 2:
        return UNKNOWN_SPREAD
    return float(np.sqrt(max(((away**2 - variation**2 / n) * n).sum() / n.sum(), LEAST_SPREAD**2)))
