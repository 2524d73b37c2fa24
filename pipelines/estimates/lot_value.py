"""What a lot is worth before its price: draws of money from draws of fates and what each fate earns and costs.

Every amount is asked for or taken from the record; none has a default that is not zero or "known for certain".
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import ClassVar

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.proportion import normal_quantile

SCRAP = len(FATES) - 1
#: By so much a number given by the user is varied to see what it changes; an estimate by its 10th and 90th percentile.
VARIED = 0.2
OUTER = 0.1
#: What was never seen in n cases is not impossible.
LEAST_CASES = 0.5


@dataclass(frozen=True)
class Amount:
    """A mean amount for each unit, how surely it is known, and how units differ.

    mean >= 0; mean_se: its standard error, 0 for one given by the user; unit_sd: SD from unit to unit. Each a number, or
    an array that broadcasts to (families, fates). Entries of `mean` are independent estimates: one number is one for all.
    """

    mean: float | np.ndarray
    mean_se: float | np.ndarray = 0.0
    unit_sd: float | np.ndarray = 0.0

    @property
    def is_estimated(self) -> bool:
        return bool(np.any(np.asarray(self.mean_se) > 0))

    def low_high(self) -> tuple[Amount, Amount]:
        """Return the amount held at its 10th and its 90th percentile; one that is given: 20 % less and 20 % more."""
        mean, se = np.asarray(self.mean, dtype=float), np.asarray(self.mean_se, dtype=float)
        away = normal_quantile(1 - 2 * OUTER)
        shifts = [_lognormal(mean, se, z) for z in (-away, away)]
        if not self.is_estimated:
            shifts = [mean * (1 - VARIED), mean * (1 + VARIED)]
        return tuple(Amount(one, 0.0, self.unit_sd) for one in shifts)


@dataclass(frozen=True)
class Portion:
    """A share (0–1), known for certain, or from n cases: then Beta(share·n, (1 − share)·n), each at least ½.

    So its mean is the share itself: a prior that adds cases would make rare returns dearer than they were in every bid.

    share: a number, or an array that broadcasts to (families, fates); of_count: the (effective) number of cases, None where
    the user gives the share.
    """

    share: float | np.ndarray
    of_count: float | np.ndarray | None = None

    @property
    def is_estimated(self) -> bool:
        return self.of_count is not None

    @property
    def mean(self) -> np.ndarray:
        if not self.is_estimated:
            return np.asarray(self.share, dtype=float)
        yes, no = self.beta()
        return yes / (yes + no)

    def low_high(self) -> tuple[Portion, Portion]:
        """Return the share held at its 10th and its 90th percentile; one that is given: 20 % less and 20 % more."""
        from scipy.special import betaincinv

        share = np.asarray(self.share, dtype=float)
        if not self.is_estimated:
            return Portion(share * (1 - VARIED)), Portion(np.minimum(share * (1 + VARIED), 1))
        return tuple(Portion(betaincinv(*self.beta(), one)) for one in (OUTER, 1 - OUTER))

    def beta(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the two parameters of the law of an estimated share."""
        share, count = np.asarray(self.share, dtype=float), np.asarray(self.of_count, dtype=float)
        return np.maximum(share * count, LEAST_CASES), np.maximum((1 - share) * count, LEAST_CASES)


@dataclass(frozen=True)
class DrawnShare:
    """A share (0–1) of the units of each family, told by draws: (draws, families). They hold the luck of the lot too.

    A lot that is drawn more often than its share goes through the draws again. of_count: the number of cases it rests on.
    """

    draws: np.ndarray
    of_count: float
    is_estimated: ClassVar[bool] = True

    @property
    def mean(self) -> np.ndarray:
        return self.draws.mean(axis=0)[:, None]

    def low_high(self) -> tuple[Portion, Portion]:
        """Return the share held at its 10th and its 90th percentile."""
        return tuple(Portion(np.quantile(self.draws, one, axis=0)[:, None]) for one in (OUTER, 1 - OUTER))


@dataclass(frozen=True)
class LotInputs:
    """What units of each fate bring and cost, in one currency. Fates in the order of `FATES`.

    resale: price of a sold unit (that of scrap is not used); other_fault: share of units with good sticks that cannot be sold for
    another fault: these are set aside at the first look, worked on like scrap, and harvested. bench_h: hours; labour_per_h: one
    number; parts_per_unit: number fitted; part_cost: of one, the same for all fates; consumables: money; selling_fee: share of
    the price; freight_out: of a sold unit; returned: share of sold units that come back under the warranty given; return_cost:
    of one, all told; harvest: what a scrapped unit brings.
    """

    resale: Amount
    other_fault: Portion
    bench_h: Amount
    labour_per_h: Amount
    parts_per_unit: Amount
    part_cost: Amount
    consumables: Amount
    selling_fee: Portion
    freight_out: Amount
    returned: Portion | DrawnShare
    return_cost: Amount
    harvest: Amount


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
    require_inputs(inputs, families=units.shape[1])
    luck = _Luck(inputs, len(units), seed)
    units = np.ascontiguousarray(np.moveaxis(units, 0, -1))
    good = units[:, :SCRAP]
    lost = luck.happened("other_fault", good)
    harvested = units[:, SCRAP] + lost.sum(axis=1)
    none = np.zeros(units.shape, dtype=np.int64)
    sold, scrapped, back = none.copy(), none.copy(), none
    sold[:, :SCRAP], scrapped[:, SCRAP] = good - lost, harvested
    back[:, :SCRAP] = luck.happened("returned", sold[:, :SCRAP])
    worked = sold + scrapped
    hours, parts = luck.total("bench_h", worked), luck.by_family("parts_per_unit", worked)
    revenue = luck.total("resale", sold, times=1 - luck.parameter("selling_fee")) + luck.total("harvest", scrapped)
    cost = (
        luck.parameter("labour_per_h").ravel() * hours
        + (luck.parameter("part_cost")[:, 0] * parts).sum(axis=0)
        + luck.total("consumables", worked)
        + luck.total("freight_out", sold)
        + luck.total("return_cost", back)
    )
    return LotValues(revenue, cost, hours, parts.sum(axis=0), back.sum(axis=(0, 1)))


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


def require_inputs(inputs: LotInputs, *, families: int) -> None:
    """Raise InputError on an amount or share that cannot be, or of which the shape does not fit (families, fates)."""
    for each in fields(inputs):
        one = getattr(inputs, each.name)
        wants = {"labour_per_h": (1, 1), "part_cost": (families, 1)}.get(each.name, (families, len(FATES)))
        for part in fields(one):
            if getattr(one, part.name) is None:
                continue
            numbers, name = np.asarray(getattr(one, part.name), dtype=float), f"`{each.name}.{part.name}`"
            if not (np.isfinite(numbers) & (numbers >= 0)).all():
                raise InputError(f"{name} holds a negative or missing number.", "Give numbers from 0.")
            if part.name in ("share", "draws") and (numbers > 1).any():
                raise InputError(f"{name} holds a share over 1.", "Give shares from 0 to 1.")
            if part.name == "draws":
                numbers = numbers[:1].T
            fits = zip(reversed(numbers.shape), reversed(wants), strict=False)
            if numbers.ndim > 2 or any(have not in (1, want) for have, want in fits):
                raise InputError(f"{name} does not fit {wants[0]} families and {wants[1]} fates.", "Give one number for all.")


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
            return _lognormal(mean, se, self._of[name].standard_normal((*mean.shape[:2], self.count)))
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

    def happened(self, name: str, units: np.ndarray) -> np.ndarray:
        """Return to how many of the good units something happened."""
        share = self.parameter(name)
        if not share.any():
            return np.zeros(units.shape, dtype=np.int64)
        return self._of_units[name].binomial(units, share[:, :SCRAP] if share.shape[1] > 1 else share)

    def _summed(self, name: str, units: np.ndarray, times: np.ndarray | float, *, axes: tuple[int, ...]) -> np.ndarray:
        mean = _summed(self.parameter(name) * times, units, axes)
        variance = _summed((_lined(getattr(self.inputs, name).unit_sd) * times) ** 2, units, axes)
        return _lognormal(mean, np.sqrt(variance), self._of_units[name].standard_normal(mean.shape))


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


def _lognormal(mean: np.ndarray, sd: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Return positive variables of these means and SDs, the more the greater z, a standard normal variable; 0 at mean 0."""
    spread = np.log1p((sd / np.where(mean > 0, mean, 1)) ** 2)
    return mean * np.exp(np.sqrt(spread) * z - spread / 2)
