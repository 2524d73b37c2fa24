"""Which families to buy: expected profit of a unit at the going price, with ranks that carry their uncertainty."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lot_fate import FATES, LotFates
from pipelines.estimates.lot_inputs import LotInputs
from pipelines.estimates.lot_value import SCRAP, unit_values
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.ranks import LEAST_SIZE, Rank, ranks
from pipelines.vocabulary import Because, Fate


@dataclass(frozen=True)
class FamilyYield:
    """What one family turns into, bought in the stated condition, averaged over lots and sellers; posterior means with limits.

    units: finished ones of its own, of so many lots; is_thin: under 8 of them. good_share: works, cleaned or new part;
    cleaned_share: cleaned, of all units.
    """

    family: Hashable
    units: int
    lots: int
    is_thin: bool
    good_share: Estimate
    cleaned_share: Estimate


@dataclass(frozen=True)
class RankedFamily(FamilyYield):
    """One family; a thin one is listed after the others whatever its rank.

    profit_per_unit: money, after the going price; earn_chance: that it is over 0; bench_h_per_unit; bench_h_per_profit: hours for
    one of the currency earned, `no_profit` where it is not expected to earn.
    """

    profit_per_unit: Estimate
    earn_chance: float
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
    profits, yields = _described(profit, level), _yields(names, split, fates, level)
    ranked = ranks(profit, estimates=profits, sizes=[one.units for one in yields], level=level)
    parts = (profits, (profit > 0).mean(axis=0).tolist(), _described(bench_h, level), _per_profit(bench_h, profit, level))
    rows = [
        RankedFamily(*(getattr(of, each.name) for each in fields(FamilyYield)), *more)
        for of, *more in zip(yields, *parts, ranked.groups, strict=True)
    ]
    rows.sort(key=lambda row: (row.is_thin, -row.profit_per_unit.estimate))
    return FamilyRanking(rows, None if ranked.best is None else names[ranked.best])


def family_yields(
    fates: LotFates, families: Sequence[Hashable], *, condition: Hashable, seed: int, count: int = 4000, level: float = 0.95
) -> list[FamilyYield]:
    """Say what families turn into, in the order given, where no prices are known. Raises InputError as the ranking does."""
    normal_quantile(level)
    if not families:
        return []
    rng = np.random.default_rng(seed)
    return _yields(families, fates.averages(list(families), condition=condition, count=count, rng=rng), fates, level)


def _yields(families: Sequence[Hashable], split: np.ndarray, fates: LotFates, level: float) -> list[FamilyYield]:
    own = {one.name: (int(one.n), one.lots) for one in fates.stages[0].families()}
    sizes = [own.get(name, (0, 0)) for name in families]
    shown = zip(
        *(_described(one, level) for one in (1 - split[:, :, SCRAP], split[:, :, FATES.index(Fate.CLEANED)])), strict=True
    )
    return [
        FamilyYield(name, units, lots, units < LEAST_SIZE, *two)
        for name, (units, lots), two in zip(families, sizes, shown, strict=True)
    ]


def _described(draws: np.ndarray, level: float) -> list[Estimate]:
    """Return mean and limits of each column."""
    low, high = np.quantile(draws, [(1 - level) / 2, (1 + level) / 2], axis=0)
    return [Estimate(*one) for one in zip(draws.mean(axis=0).tolist(), low.tolist(), high.tolist(), strict=True)]


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
