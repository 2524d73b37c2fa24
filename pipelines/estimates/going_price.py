"""What a unit of a family usually costs in a lot of some stated condition, from the prices of past lots; few lots borrow."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require, require_columns
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.grid import shares
from pipelines.estimates.normal_mixture import quantile
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: Half-normal priors of the standard deviations of log prices: between families, and between lots of one kind.
FAMILY_SD, LOT_SD = 1.0, 0.5
#: Normal priors of the log price of a condition against the average one, and of the average.
CONDITION_SD, LEVEL_SD = 1.0, 10.0
#: Both standard deviations run over this range in equal ratios.
NODES = np.geomspace(0.02, 3.0, 40)


@dataclass(frozen=True)
class GoingPrice:
    """What a unit of a family costs, money with limits for the usual lot; lots: of the family, in any condition."""

    family: Hashable
    price: Estimate
    lots: int


def going_prices(
    lots: pd.DataFrame, families: Sequence[Hashable], *, condition: Hashable, level: float = 0.95
) -> list[GoingPrice]:  # fmt: skip
    """Estimate the going price of a unit of each family in lots of one condition: that of the middle lot.

    lots: one row per lot and family: `family`, `condition`, `price` (over 0, of a unit, all fees in). A family without lots has
    `not_given`: what it costs cannot be told from the others. A condition never bought is told by the others, with wide limits.
    Raises InputError on another price.
    Method: log price = level + condition + family + lot, all normal; the two standard deviations are integrated on a grid, so
    the limits hold what is not known of them. Source: Lindley & Smith (1972), J. R. Statist. Soc. B 34:1–41 (from memory).
    """
    normal_quantile(level)
    require_columns(lots, ["family", "condition", "price"])
    price = lots["price"].to_numpy(dtype=float)
    require((price > 0) & np.isfinite(price), "`price` is no price", "Leave lots out that cost nothing.")
    if not len(lots):
        return [GoingPrice(family, Estimate.refused(Because.NOT_GIVEN), 0) for family in families]
    by_family, by_condition = group([lots], by=["family"]), group([lots], by=["condition"])
    known, conditions = by_family.keys["family"].tolist(), by_condition.keys["condition"].tolist()
    rows = np.column_stack([np.ones(len(lots)), np.eye(by_condition.count)[by_condition.codes[0]]])
    centre = float(np.log(price).mean())
    found = _Posterior.of(rows, np.log(price) - centre, by_family.codes[0], by_family.count)
    wanted = np.append(1.0, [float(one == condition) for one in conditions])
    unseen = 0.0 if condition in conditions else CONDITION_SD**2
    told = []
    for family in families:
        if family not in known:
            told.append(GoingPrice(family, Estimate.refused(Because.NOT_GIVEN), 0))
            continue
        place = known.index(family)
        mean, variance = found.family(place, wanted)
        low, middle, high = (
            float(quantile(found.weight, mean, np.sqrt(variance + unseen), part))
            for part in ((1 - level) / 2, 0.5, (1 + level) / 2)
        )  # fmt: skip
        limits = np.exp(np.array([middle, low, high]) + centre).tolist()
        told.append(GoingPrice(family, Estimate(*limits), int(found.count[place])))
    return told


@dataclass(frozen=True)
class _Posterior:
    """Level and conditions at each node of the grid, families taken out; count, total: lots of a family, sum of log prices."""

    weight: np.ndarray
    family_sd: np.ndarray
    lot_sd: np.ndarray
    mean: np.ndarray
    covariance: np.ndarray
    count: np.ndarray
    seen: np.ndarray
    total: np.ndarray

    @classmethod
    def of(cls, rows: np.ndarray, y: np.ndarray, family: np.ndarray, families: int) -> _Posterior:
        """Lay the grid. rows: level and condition of each lot; y: centred log prices; family: the place of its family."""
        count = np.bincount(family, minlength=families).astype(float)
        total = np.bincount(family, weights=y, minlength=families)
        seen = np.stack([np.bincount(family, weights=column, minlength=families) for column in rows.T], axis=1)
        family_sd, lot_sd = (one.ravel() for one in np.meshgrid(NODES, NODES))
        precision = lot_sd**-2
        pull = family_sd[:, None] ** 2 / (lot_sd[:, None] ** 2 + count * family_sd[:, None] ** 2)
        crossed = (seen[:, :, None] * seen[:, None, :]).reshape(families, -1)
        width = rows.shape[1]
        prior = np.diag(np.append(LEVEL_SD**-2.0, np.full(width - 1, CONDITION_SD**-2.0)))
        matrix = prior + precision[:, None, None] * (rows.T @ rows - (pull @ crossed).reshape(-1, width, width))
        right = precision[:, None] * (rows.T @ y - pull @ (seen * total[:, None]))
        covariance = np.linalg.inv(matrix)
        mean = np.einsum("nij,nj->ni", covariance, right)
        squares = precision * (y @ y - pull @ total**2) - (right * mean).sum(axis=1)
        spread = 2 * len(y) * np.log(lot_sd) + np.log1p(count * (family_sd / lot_sd)[:, None] ** 2).sum(axis=1)
        log_evidence = -(squares + spread + np.linalg.slogdet(matrix)[1]) / 2
        # the nodes are even in the logarithm, the priors in the standard deviation itself
        log_prior = np.log(family_sd * lot_sd) - (family_sd / FAMILY_SD) ** 2 / 2 - (lot_sd / LOT_SD) ** 2 / 2
        weight = shares(log_evidence + log_prior)
        heavy = weight > weight.max() * 1e-4
        nodes = (one[heavy] for one in (weight, family_sd, lot_sd, mean, covariance))
        first, *others = nodes
        return cls(first / first.sum(), *others, count, seen, total)

    def family(self, place: int, wanted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return mean and variance of the log price of a family in a condition, at each node."""
        spread = self.lot_sd**2 + self.count[place] * self.family_sd**2
        pull = self.family_sd**2 / spread
        lean = wanted - pull[:, None] * self.seen[place]
        mean = (lean * self.mean).sum(axis=1) + pull * self.total[place]
        return mean, np.einsum("ni,nij,nj->n", lean, self.covariance, lean) + self.family_sd**2 * self.lot_sd**2 / spread
