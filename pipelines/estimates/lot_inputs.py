"""What units of a lot bring and cost: amounts and shares, how surely they are known, and how units differ.

Every amount is asked for or taken from the record; none has a default that is not zero or "known for certain".
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import ClassVar

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.proportion import normal_quantile

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
        shifts = [lognormal(mean, se, z) for z in (-away, away)]
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


def lognormal(mean: np.ndarray, sd: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Return positive variables of these means and SDs, the more the greater z, a standard normal variable; 0 at mean 0."""
    spread = np.log1p((sd / np.where(mean > 0, mean, 1)) ** 2)
    return mean * np.exp(np.sqrt(spread) * z - spread / 2)
