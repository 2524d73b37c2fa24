"""A lot's result held against its forecast: by how much each part of it differs, in money."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.lot_inputs import LotInputs
from pipelines.estimates.lot_value import SCRAP, unit_values


@dataclass(frozen=True)
class Came:
    """What came of a lot so far; arrays (families, FATES), but for `waiting`.

    units: settled ones; sold: of those; income: of the sold ones before fees, `priced` of which have a price; hours: at the
    bench, of the `timed` ones; spent: on parts and consumables, of the `costed` ones; returned: sold ones that came back;
    unwatched: of the others the part of the warranty that is still to come, in units, for which returns count as forecast;
    waiting: units of each family that are not settled, (families,).
    """

    units: np.ndarray
    sold: np.ndarray
    priced: np.ndarray
    income: np.ndarray
    timed: np.ndarray
    hours: np.ndarray
    costed: np.ndarray
    spent: np.ndarray
    returned: np.ndarray
    unwatched: np.ndarray
    waiting: np.ndarray


@dataclass(frozen=True)
class Differences:
    """Result less forecast, in money, in parts that add up: below 0 where it went worse.

    units: more or fewer came than were bought; fates: another split into works, cleaned, new part and scrap; unsold: more or
    fewer good units sold than expected of so many; prices; hours: at the bench; spent: parts and consumables; returns.
    """

    units: float
    fates: float
    unsold: float
    prices: float
    hours: float
    spent: float
    returns: float

    @property
    def total(self) -> float:
        return sum(getattr(self, one.name) for one in fields(self))

    @property
    def worst(self) -> str | None:
        """Return the part that cost most, None where none cost anything."""
        name = min((one.name for one in fields(self)), key=lambda name: getattr(self, name))
        return name if getattr(self, name) < 0 else None


def expected_value(units: np.ndarray, inputs: LotInputs) -> float:
    """Return what a lot is expected to be worth before its price; units: expected ones, (families, fates)."""
    return float((units * unit_values(inputs, families=len(units))[0][0]).sum())


def differences(units: np.ndarray, inputs: LotInputs, came: Came) -> Differences:
    """Say in which parts a result differs from what was forecast.

    units: expected ones of a lot as it was bought, (families, FATES), of each family some; inputs: of the forecast. One input
    after the other is replaced by what came, in the order of the fields, so the parts add up to the whole. What is not known of
    a settled unit (its price, its hours, what was spent), and units that are waiting, count as forecast.
    Raises InputError where more are sold, priced, timed or costed than there are, or shapes do not fit.
    """
    _require_fits(units, came)
    one = _Means(inputs, units.shape)
    earned = unit_values(inputs, families=len(units))[0][0]
    bought = units.sum(axis=1, keepdims=True)
    split = units / bought
    settled = came.units.sum(axis=1, keepdims=True)
    good, lost = came.units[:, :SCRAP], (came.units - came.sold)[:, :SCRAP]
    kept = 1 - one.other_fault[:, :SCRAP]
    sale = one.resale * (1 - one.selling_fee) - one.freight_out - one.returned * one.return_cost
    gained = (sale - one.work)[:, :SCRAP] - (one.harvest - one.work)[:, SCRAP:]
    expected_h = _as_worked(came, one.bench_h)
    expected_cost = _as_worked(came, one.materials)
    # Prices are compared where they are known; scrap sold for parts brings its price in the place of its harvest.
    dearer = came.income - came.priced * one.resale
    dearer[:, SCRAP] = came.income[:, SCRAP] - came.priced[:, SCRAP] * one.harvest[:, SCRAP]
    kept_of_price = 1 - one.selling_fee
    kept_of_price[:, SCRAP] = 1
    return Differences(
        units=float(((settled + came.waiting[:, None] - bought) * split * earned).sum()),
        fates=float(((came.units - settled * split) * earned).sum()),
        unsold=float(((good - lost - good * kept) * gained).sum()),
        prices=float((dearer * kept_of_price).sum()),
        hours=-float((one.labour * (came.hours - _known(came.timed, came.units) * expected_h)).sum()),
        spent=-float((came.spent - _known(came.costed, came.units) * expected_cost).sum()),
        returns=-float((one.return_cost * (came.returned - (came.sold - came.unwatched) * one.returned))[:, :SCRAP].sum()),
    )


class _Means:
    """The means of the inputs, each as (families, FATES); materials: parts and consumables; work: these and labour."""

    def __init__(self, inputs: LotInputs, shape: tuple[int, int]) -> None:
        found = {one.name: np.broadcast_to(getattr(inputs, one.name).mean, shape).copy() for one in fields(inputs)}
        self.resale, self.selling_fee, self.freight_out = found["resale"], found["selling_fee"], found["freight_out"]
        self.other_fault, self.harvest, self.bench_h = found["other_fault"], found["harvest"], found["bench_h"]
        self.returned, self.return_cost, self.labour = found["returned"], found["return_cost"], found["labour_per_h"]
        self.materials = found["part_cost"] * found["parts_per_unit"] + found["consumables"]
        self.work = self.labour * self.bench_h + self.materials


def _as_worked(came: Came, each: np.ndarray) -> np.ndarray:
    """Return what the settled units of each cell are expected to take, good ones that were never sold like scrap."""
    lost = came.units - came.sold
    lost[:, SCRAP] = 0
    return (came.units - lost) * each + lost * each[:, SCRAP:]


def _known(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    """Return the share of a cell's units of which something is known; a cell without units takes nothing either way."""
    return part / np.where(whole > 0, whole, 1)


def _require_fits(units: np.ndarray, came: Came) -> None:
    cells = [getattr(came, one.name) for one in fields(came) if one.name != "waiting"]
    if any(one.shape != units.shape for one in cells) or came.waiting.shape != units.shape[:1]:
        raise InputError("The result of a lot has other families than its forecast.", "Give one row a family in both.")
    if not (units.sum(axis=1) > 0).all():
        raise InputError("A family of the lot has no unit.", "Leave it out.")
    if (came.sold > came.units).any() or (came.priced > came.sold).any():
        raise InputError("More units were sold than there are.", "Count a sold unit once.")
    if (came.timed > came.units).any() or (came.costed > came.units).any():
        raise InputError("More units were worked on than there are.", "Count a unit once.")
