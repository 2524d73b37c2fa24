"""Shares of lots that differ: each lot borrows from its stated condition, its families and its seller.

logit p = level + condition + family + seller + lot, all of them normal. How much families, sellers and lots differ the log
decides: the three standard deviations are integrated on a grid, never fixed at their best values.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require, require_columns
from pipelines.estimates.crossed_share_grid import luck, posterior
from pipelines.estimates.crossed_share_modes import CONDITION_SD, Lines, Modes, Spread, lot_pulls, parts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.grid import drawn_nodes
from pipelines.estimates.lot_luck import LotLuck
from pipelines.estimates.normal_mixture import quantile
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: More families than this are too many for one system.
MOST_FAMILIES = 400


@dataclass(frozen=True)
class Effect:
    """One family or seller against the average one: the odds ratio of its share (over 1: more), with posterior limits.

    k of n over `lots` lots: its own record.
    """

    name: Hashable
    k: float
    n: float
    lots: int
    odds_ratio: Estimate


@dataclass(frozen=True)
class CrossedShares:
    """The posterior of shares of lots, from k of n over `lots` past lots.

    because: `no_past_lots`, draws are then of the prior alone. is_prior_led: under two lots do not tell how much lots differ,
    so draws rest on the prior. luck: what is known of that of the past lots, by name.
    """

    lots: int
    k: float
    n: float
    because: Because | None
    luck: LotLuck
    _names: dict[str, list]
    _lot_of: dict[Hashable, int]
    _record: pd.DataFrame
    _lines: Lines | None
    _weight: np.ndarray
    _spread: Spread
    _modes: Modes | None
    _mean: np.ndarray
    _covariance: np.ndarray

    @property
    def is_prior_led(self) -> bool:
        return self.lots < 2

    def is_borrowed(self, *, condition: Hashable, family: Hashable, seller: Hashable | None) -> bool:
        """Tell whether one of them was never seen, so that the others tell of it; no seller is any seller."""
        names = self._names
        is_new_seller = seller is not None and seller not in names["seller"]
        return is_new_seller or condition not in names["condition"] or family not in names["family"]

    def draws(
        self,
        *,
        condition: Hashable,
        families: Sequence[Hashable],
        seller: Hashable | None,
        count: int,
        rng: np.random.Generator,
        luck: np.ndarray | None = None,
    ) -> np.ndarray:
        """Return draws of the shares of one new lot, (count, families): what is not known, and the lot's own luck.

        The families of a lot share its luck. A condition, family or seller never seen, or no seller, may be any.
        luck: draws of the lot's luck, standard normal, where something else is to share it.
        """
        node = rng.permutation(drawn_nodes(self._weight, count))
        logit = _drawn(*self._predictor(condition, families, seller), node, rng)
        luck = rng.standard_normal(count) if luck is None else luck
        return 1 / (1 + np.exp(-(logit + (self._spread.lot_sd[node] * luck)[:, None])))

    def typical(
        self, *, condition: Hashable, families: Sequence[Hashable], count: int, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return draws of the families' logits in a lot without luck of an average seller, (count, families), and of the standard
        deviations between sellers and between lots of one seller, (count, 1)."""
        spread, node = self._spread, rng.permutation(drawn_nodes(self._weight, count))
        mean, covariance = self._predictor(condition, families, None)
        logit = _drawn(mean, covariance - (spread.seller_sd**2)[:, None, None], node, rng)
        return logit, spread.seller_sd[node, None], spread.lot_sd[node, None]

    def families(self, *, level: float = 0.95) -> list[Effect]:
        """Return each family's effect, in sorted order."""
        first = self._mean.shape[1] - len(self._names["family"])
        variance = np.diagonal(self._covariance, axis1=1, axis2=2)
        return self._effects("family", self._mean[:, first:], np.sqrt(variance[:, first:]), level)

    def sellers(self, *, level: float = 0.95) -> list[Effect]:
        """Return each seller's effect, in sorted order: its own record, shrunk to the others'."""
        mean, lean, variance = self._sellers(self._names["seller"])
        return self._effects("seller", mean, np.sqrt(((lean @ self._covariance) * lean).sum(axis=2) + variance), level)

    def _effects(self, of: str, mean: np.ndarray, sd: np.ndarray, level: float) -> list[Effect]:
        normal_quantile(level)
        if not self._names[of]:
            return []
        low, middle, high = (np.exp(quantile(self._weight, mean, sd, part)) for part in ((1 - level) / 2, 0.5, (1 + level) / 2))
        own = self._record.groupby(of, dropna=of == "seller").agg(k=("k", "sum"), n=("n", "sum"), lots=("lot", "nunique"))
        told = zip(self._names[of], own.itertuples(index=False), middle.tolist(), low.tolist(), high.tolist(), strict=True)
        return [Effect(name, float(row.k), float(row.n), int(row.lots), Estimate(*ratio)) for name, row, *ratio in told]

    def _predictor(self, condition: Hashable, families: Sequence[Hashable], seller: Hashable | None):
        """Return mean and covariance of the families' logits by node, without the lot's own luck."""
        names, spread = self._names, self._spread
        rows = np.zeros((len(families), self._mean.shape[1]))
        rows[:, 0] = 1
        mean, lean, shared = 0.0, 0.0, spread.seller_sd**2
        if seller in self._lot_of:
            mean, lean, shared = self._sellers([seller])
            shared = shared[:, 0]
        if condition in names["condition"]:
            rows[:, 1 + names["condition"].index(condition)] = 1
        else:
            shared = shared + CONDITION_SD**2
        first = 1 + len(names["condition"])
        is_new = np.zeros(len(families))
        for one, family in enumerate(families):
            if family in names["family"]:
                rows[one, first + names["family"].index(family)] = 1
            else:
                is_new[one] = 1
        leaning = rows + lean
        own = np.diag(is_new) * (spread.family_sd**2)[:, None, None]
        covariance = leaning @ self._covariance @ np.swapaxes(leaning, -1, -2)
        return self._mean @ rows.T + mean, covariance + shared[:, None, None] + own

    def _sellers(self, names: Sequence[Hashable]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return means of known sellers' effects, (nodes, sellers), how they lean on the others, (nodes, sellers, width), and
        their variance given these."""
        if not names:
            return np.empty((len(self._weight), 0)), np.empty((len(self._weight), 0, self._mean.shape[1])), np.empty((1, 0))
        lines, system = self._lines, self._modes.system
        _, sellers, lots = parts(lines, self._modes.effects)
        lot = np.array([self._lot_of[name] for name in names])
        # A seller of one lot has a part of what that lot differs by.
        within, between = (self._spread.lot_sd**2)[:, None], (self._spread.seller_sd**2)[:, None]
        part, damping = between / (between + within), system.damping[lot].T
        mean, variance = part * lots[lot].T, part**2 * damping + part * within
        lean = -(part * damping)[:, :, None] * lot_pulls(lines, system, lot)
        many = np.flatnonzero(lines.seller_of_lot[lot] >= 0)
        place = lines.seller_of_lot[lot[many]]
        own = system.seller[place].T
        mean[:, many], variance[:, many], lean[:, many] = sellers[place].T, own, -own[:, :, None] * system.pull[:, place]
        return mean, lean, variance


def crossed_share(rows: pd.DataFrame) -> CrossedShares | Because:
    """Estimate shares of lots that differ by stated condition, family and seller, and beyond that from lot to lot.

    rows: counts by `condition`, `family`, `seller`, `lot`: `k` of `n` units; rows of one of each are added up, those of n = 0
    say nothing. A blank seller is a seller of its own for each lot, a blank condition or family one like any other. Lots of
    one name from two sellers are two.
    Without units `because` is `no_past_lots`. More than 400 families are `too_large`, which is returned alone.
    Raises InputError unless 0 <= k <= n.
    Method: Laplace approximation at each node of a grid over the three standard deviations, with half-normal priors of 0.8
    (families), 0.5 (sellers) and 0.6 (lots), moved from mode to mean by the nearest normal distribution; the grid is laid
    by its own moments. Level ~ N(0, 1.8²), conditions ~ N(0, 1).
    Source: Naylor & Smith (1982), Applied Statistics 31:214–225; Rue, Martino & Chopin (2009), J. R. Statist. Soc. B
    71:319–392 (both from memory).
    """
    require_columns(rows, ["condition", "family", "seller", "lot", "k", "n"])
    k, n = rows["k"].to_numpy(dtype=float), rows["n"].to_numpy(dtype=float)
    require((k >= 0) & (k <= n) & np.isfinite(n), "`k` of `n` is not a share", "Count the successes among the units.")
    groups = group([rows[n > 0]], by=["condition", "family", "seller", "lot"])
    record = groups.keys.assign(
        k=np.bincount(groups.codes[0], weights=k[n > 0], minlength=groups.count),
        n=np.bincount(groups.codes[0], weights=n[n > 0], minlength=groups.count),
    )
    names, code = {}, {}
    for of in ("condition", "family"):
        one = group([record], by=[of])
        names[of], code[of] = one.keys[of].tolist(), one.codes[0]
    names["seller"] = sorted(record["seller"].dropna().unique().tolist())
    if len(names["family"]) > MOST_FAMILIES:
        return Because.TOO_LARGE
    lots = group([record], by=["seller", "lot"])
    sold = group([lots.keys], by=["seller"])
    is_seller = (np.bincount(sold.codes[0]) > 1) & sold.keys["seller"].notna().to_numpy() if lots.count else np.empty(0, bool)
    place = np.where(is_seller, np.cumsum(is_seller) - 1, -1)
    lines = None
    if lots.count:
        size = {"conditions": len(names["condition"]), "families": len(names["family"])}
        shares_of = (record["k"].to_numpy(), record["n"].to_numpy(), code["condition"], code["family"])
        lines = Lines(*shares_of, lots.codes[0], place[sold.codes[0]], **size)
    record = record.assign(lot=lots.codes[0])
    lot_of = record.dropna(subset="seller").groupby("seller", observed=True)["lot"].first().to_dict()
    because = None if lots.count else Because.NO_PAST_LOTS
    weight, spread, found, mean, covariance = posterior(lines)
    of_lots = LotLuck(lots.keys["lot"].to_numpy(), *luck(lines, weight, spread, found, covariance))
    known = (names, lot_of, record, lines, weight, spread, found, mean, covariance)
    return CrossedShares(lots.count, record["k"].sum(), record["n"].sum(), because, of_lots, *known)


def _drawn(mean: np.ndarray, covariance: np.ndarray, node: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return a draw of the normal vector of each node; a covariance that rounding left just short of positive is no fault."""
    size = mean.shape[1]
    tiny = 1e-12 * np.trace(covariance, axis1=1, axis2=2)[:, None, None] * np.eye(size)
    root = np.linalg.cholesky(covariance + tiny)
    return mean[node] + (root[node] @ rng.standard_normal((len(node), size, 1)))[:, :, 0]
