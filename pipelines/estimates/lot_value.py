"""What a lot is worth before its price: draws of money from draws of fates and what each fate earns and costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import Amount, DrawnShare, LotInputs, lognormal, require_inputs

SCRAP = len(FATES) - 1


@dataclass(frozen=True)
class LotValues:
    """One number a draw: money in and out before the lot's price, their difference, bench hours, parts fitted, units returned.

    revenue: sales less the selling fee, and harvest; cost: labour, parts, consumables, freight out, returns.
    """

    revenue: np.ndarray
    cost: np.ndarray
    bench_h: np.ndarray
    parts: np.ndarray
    returns: np.ndarray

    @property
    def value(self) -> np.ndarray:
        return self.revenue - self.cost


def lot_values(units: np.ndarray, inputs: LotInputs, *, seed: int) -> LotValues:
    """Draw what a lot is worth for each draw of its fates.

    units: (draws, families, fates), as `LotFates.draws` gives them. Every input has luck of its own out of `seed`, so that a
    change of one is seen alone. Sums over units have the right mean and variance, and the law of a lognormal variable.
    Raises InputError on a negative amount, a share outside 0–1, or shapes that do not fit.
    """
    return Valuing(units, seed=seed).of(inputs)


class Valuing:
    """What the same draws of a lot are worth under several inputs, as `lot_values`, all with the same luck.

    What the first inputs gave is kept: others that share some of them (the very objects) share what rests on these alone.
    """

    def __init__(self, units: np.ndarray, *, seed: int) -> None:
        self._seed, self._count = seed, len(units)
        self._units = np.ascontiguousarray(np.moveaxis(units, 0, -1))
        self._kept: dict[str, tuple[list, object]] = {}

    def of(self, inputs: LotInputs) -> LotValues:
        require_inputs(inputs, families=len(self._units))
        luck = _Luck(inputs, self._count, self._seed)

        def once(name: str, *rests_on: str, make: Callable[[], object]):
            given = [getattr(inputs, one) for one in rests_on]
            kept = self._kept.get(name)
            if kept is not None and all(one is other for one, other in zip(given, kept[0], strict=True)):
                return kept[1]
            found = make()
            self._kept.setdefault(name, (given, found))
            return found

        sold, scrapped, worked = once("after_faults", "other_fault", make=lambda: self._after_faults(luck))
        back = once("back", "other_fault", "returned", "return_cost", make=lambda: luck.returned(sold))
        hours = once("hours", "other_fault", "bench_h", make=lambda: luck.total("bench_h", worked))
        parts = once("parts", "other_fault", "parts_per_unit", make=lambda: luck.by_family("parts_per_unit", worked))
        revenue = once(
            "resale", "other_fault", "resale", "selling_fee",
            make=lambda: luck.total("resale", sold, times=1 - luck.parameter("selling_fee")),
        ) + once("harvest", "other_fault", "harvest", make=lambda: luck.total("harvest", scrapped))  # fmt: skip
        cost = (
            luck.parameter("labour_per_h").ravel() * hours
            + (luck.parameter("part_cost")[:, 0] * parts).sum(axis=0)
            + once("consumables", "other_fault", "consumables", make=lambda: luck.total("consumables", worked))
            + once("freight_out", "other_fault", "freight_out", make=lambda: luck.total("freight_out", sold))
            + once(
                "return_cost", "other_fault", "returned", "return_cost", make=lambda: luck.total("return_cost", back)
            )
        )  # fmt: skip
        return LotValues(revenue, cost, hours, parts.sum(axis=0), back.sum(axis=(0, 1)))

    def _after_faults(self, luck: _Luck) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the units sold, scrapped and worked on, by family and fate: those lost to other faults are scrapped."""
        good = self._units[:, :SCRAP]
        lost = luck.happened("other_fault", good)
        sold, scrapped = np.zeros_like(self._units), np.zeros_like(self._units)
        sold[:, :SCRAP], scrapped[:, SCRAP] = good - lost, self._units[:, SCRAP] + lost.sum(axis=1)
        return sold, scrapped, sold + scrapped


def unit_values(inputs: LotInputs, *, families: int, count: int | None = None, seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Return what a unit of each family and fate is expected to earn before the lot's price, and its expected bench hours.

    Without `count`: at the means, two arrays (1, families, fates). With it: draws of both over what is not known of the inputs,
    (count, families, fates). Raises InputError as `lot_values`.
    """
    require_inputs(inputs, families=families)
    luck = _Luck(inputs, count, seed)
    one = {each.name: luck.parameter(each.name) for each in fields(inputs)}
    shape = (families, len(FATES), count or 1)
    hours = np.broadcast_to(one["bench_h"], shape)
    work = one["labour_per_h"] * hours + one["part_cost"] * one["parts_per_unit"] + one["consumables"]
    sale = one["resale"] * (1 - one["selling_fee"]) - one["freight_out"] - one["returned"] * one["return_cost"]
    harvested = np.broadcast_to(one["harvest"] - work, shape)[:, SCRAP:]
    lost = np.broadcast_to(one["other_fault"], shape).copy()
    lost[:, SCRAP] = 1
    found = (1 - lost) * (sale - work) + lost * harvested, (1 - lost) * hours + lost * hours[:, SCRAP:]
    return tuple(np.moveaxis(one, -1, 0) for one in found)


class _Luck:
    """What is not known of the inputs, and the luck of units: each input has its own. count None: everything at its mean.

    All arrays are (families, fates, draws), or broadcast to it: sums over the short axes are then sums of long rows.
    """

    def __init__(self, inputs: LotInputs, count: int | None, seed: int) -> None:
        names = [each.name for each in fields(inputs)]
        seeds = np.random.SeedSequence(seed).spawn(2 * len(names))
        self.inputs, self.count = inputs, count
        self._of = {name: np.random.default_rng(one) for name, one in zip(names, seeds[: len(names)], strict=True)}
        self._of_units = {name: np.random.default_rng(one) for name, one in zip(names, seeds[len(names) :], strict=True)}

    def parameter(self, name: str) -> np.ndarray:
        """Return draws of a mean or a share, to be broadcast to (families, fates, draws)."""
        one = getattr(self.inputs, name)
        if isinstance(one, Amount):
            mean, se = np.broadcast_arrays(_lined(one.mean), _lined(one.mean_se))
            if self.count is None or not se.any():
                return mean
            return lognormal(mean, se, self._of[name].standard_normal((*mean.shape[:2], self.count)))
        if self.count is None or not one.is_estimated:
            return _lined(one.mean)
        if isinstance(one, DrawnShare):
            return np.resize(one.draws, (self.count, one.draws.shape[1])).T[:, None, :]
        yes, no = np.broadcast_arrays(*map(_lined, one.beta()))
        return self._of[name].beta(yes, no, (*yes.shape[:2], self.count))

    def total(self, name: str, units: np.ndarray, times: np.ndarray | float = 1.0) -> np.ndarray:
        """Return an amount (each unit's taken `times`) summed over the units, (draws,)."""
        return self._summed(name, units, times, axes=(0, 1))

    def by_family(self, name: str, units: np.ndarray) -> np.ndarray:
        """Return an amount summed over the units of each family, (families, draws)."""
        return self._summed(name, units, 1.0, axes=(1,))

    def returned(self, sold: np.ndarray) -> np.ndarray:
        """Return how many sold units come back, by family and fate; in one fate where neither share nor cost differs by fate."""
        cost = self.inputs.return_cost
        each = (self.inputs.returned.mean, cost.mean, cost.mean_se, cost.unit_sd)
        if all(_lined(one).shape[1] == 1 for one in each):
            return self.happened("returned", sold[:, :SCRAP].sum(axis=1, keepdims=True))
        back = np.zeros_like(sold)
        back[:, :SCRAP] = self.happened("returned", sold[:, :SCRAP])
        return back

    def happened(self, name: str, units: np.ndarray) -> np.ndarray:
        """Return to how many of the good units something happened."""
        share = self.parameter(name)
        if not share.any():
            return np.zeros(units.shape, dtype=np.int64)
        return self._of_units[name].binomial(units, share[:, :SCRAP] if share.shape[1] > 1 else share)

    def _summed(self, name: str, units: np.ndarray, times: np.ndarray | float, *, axes: tuple[int, ...]) -> np.ndarray:
        mean = _summed(self.parameter(name) * times, units, axes)
        variance = _summed((_lined(getattr(self.inputs, name).unit_sd) * times) ** 2, units, axes)
        return lognormal(mean, np.sqrt(variance), self._of_units[name].standard_normal(mean.shape))


def _lined(value: float | np.ndarray) -> np.ndarray:
    """Return a number or array as one of three axes: families, fates, draws."""
    array = np.asarray(value, dtype=float)
    return array.reshape((1,) * (2 - array.ndim) + array.shape + (1,))


def _summed(each: np.ndarray, units: np.ndarray, axes: tuple[int, ...]) -> np.ndarray:
    """Return Σ each·units; along axes where all units count alike they are added up first."""
    for axis in axes:
        if each.shape[axis] == 1:
            units = units.sum(axis=axis, keepdims=True)
    return (each * units).sum(axis=axes)
