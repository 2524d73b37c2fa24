"""Which families to buy: expected profit of a unit at the going price, with ranks that carry their uncertainty."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lot_fate import FATES, LotFates
from pipelines.estimates.lot_value import SCRAP, LotInputs, unit_values
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.ranks import LEAST_SIZE, Rank, ranks
from pipelines.vocabulary import Because, Fate


@dataclass(frozen=True)
class RankedFamily:
    """One family, bought in the stated condition, averaged over lots and sellers; posterior means with limits.

    units: finished ones of its own; is_thin: under 8 of them, so it is listed after the others whatever its rank.
    profit_per_unit: money, after the going price; good_share: works, cleaned or new part; cleaned_share: cleaned, of all units;
    bench_h_per_unit; bench_h_per_profit: hours for one of the currency earned, `no_profit` where it is not expected to earn.
    """

    family: Hashable
    units: float
    is_thin: bool
    profit_per_unit: Estimate
    good_share: Estimate
    cleaned_share: Estimate
    bench_h_per_unit: Estimate
    bench_h_per_profit: Estimate
    rank: Rank


@dataclass(frozen=True)
class FamilyRanking:
    """The families, the best first, thin ones last; best: the one that may be called the best, None where none may."""

    families: list[RankedFamily]
    best: Hashable | None


def family_ranking(
    fates: LotFates,
    prices: Mapping[Hashable, float],
    inputs: LotInputs,
    *,
    condition: Hashable,
    seed: int,
    count: int = 4000,
    level: float = 0.95,
) -> FamilyRanking:
    """Rank families by what a unit is expected to earn at the going price, from one posterior.

    prices: family → what a unit costs, all fees in; inputs: as in `lot_values`, their families in the order of `prices`.
    A family without units of its own is told by the others. No prices give no families.
    Raises InputError on a price that is none, and where nothing is known of fates.
    """
    normal_quantile(level)
    names, price = list(prices), np.array(list(prices.values()), dtype=float)
    if not (np.isfinite(price) & (price >= 0)).all():
        raise InputError("A going price is negative or missing.", "Give what a unit of each family costs, from 0.")
    if not names:
        return FamilyRanking([], None)
    split = fates.averages(names, condition=condition, count=count, rng=np.random.default_rng(seed))
    earned, hours = unit_values(inputs, families=len(names), count=count, seed=seed)
    profit, bench_h = (split * earned).sum(axis=2) - price, (split * hours).sum(axis=2)
    shown = [
        [_described(draws[:, one], level) for one in range(len(names))]
        for draws in (profit, 1 - split[:, :, SCRAP], split[:, :, FATES.index(Fate.CLEANED)], bench_h)
    ]
    own = {one.name: one.n for one in fates.stages[0].families()}
    sizes = [own.get(name, 0.0) for name in names]
    ranked = ranks(profit, estimates=shown[0], sizes=sizes, level=level)
    rows = [
        RankedFamily(name, sizes[one], sizes[one] < LEAST_SIZE, *(part[one] for part in shown), ratio, ranked.groups[one])
        for one, (name, ratio) in enumerate(zip(names, _per_profit(bench_h, profit, level), strict=True))
    ]
    rows.sort(key=lambda row: (row.is_thin, -row.profit_per_unit.estimate))
    return FamilyRanking(rows, None if ranked.best is None else names[ranked.best])


def _described(draws: np.ndarray, level: float) -> Estimate:
    low, high = np.quantile(draws, [(1 - level) / 2, (1 + level) / 2])
    return Estimate(float(draws.mean()), float(low), float(high))


def _per_profit(bench_h: np.ndarray, profit: np.ndarray, level: float) -> list[Estimate]:
    """Return hours over profit of each family; without an upper limit where it may be that nothing is earned."""
    found = []
    for hours, earned in zip(bench_h.T, profit.T, strict=True):
        if earned.mean() <= 0:
            found.append(Estimate.refused(Because.NO_PROFIT))
            continue
        # Hours against profit as an angle: past a quarter turn nothing is earned, and the ratio has no upper limit.
        low, high = np.quantile(np.arctan2(hours, earned), [(1 - level) / 2, (1 + level) / 2])
        ratio = float(hours.mean() / earned.mean())
        found.append(Estimate.within(ratio, *(float(np.tan(one)) if one < np.pi / 2 else None for one in (low, high))))
    return found
