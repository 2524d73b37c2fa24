"""Same pad again and again: retire it? What its faults will cost if it stays, against a typical one bought in its place."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import inf, isfinite

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate

#: It is replaced where that is at least this likely to be the cheaper, and kept where at most that likely.
LIKELY, UNLIKELY = 0.9, 0.1


class Retire(StrEnum):
    """What to do with a controller."""

    REPLACE = "replace"
    KEEP = "keep"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True)
class RetireCosts:
    """unit_price: of another controller; fault_cost: of one fault, all told; keep_weeks: how much longer it is to serve."""

    unit_price: float
    fault_cost: float
    keep_weeks: float

    def __post_init__(self) -> None:
        if not all(isfinite(one) and one >= 0 for one in (self.unit_price, self.fault_cost, self.keep_weeks)):
            raise InputError("A cost or time is no number from 0.", "Give price, cost of a fault and weeks from 0.")

    def typical(self, faults_per_week: float) -> float:
        """Return what the faults of a typical controller in its place will cost."""
        return self.fault_cost * faults_per_week * self.keep_weeks

    def even_factor(self, faults_per_week: float) -> float:
        """Return how many times the typical faults it must have for both to cost the same; infinite where faults cost nothing."""
        typical = self.typical(faults_per_week)
        return 1 + self.unit_price / typical if typical > 0 else inf


@dataclass(frozen=True)
class Retirement:
    """keep_cost, replace_cost: expected, over the weeks; saving: by replacing it; saves_chance: that it saves anything."""

    keep_cost: float
    replace_cost: float
    saving: Estimate
    saves_chance: float
    advice: Retire


def retirement(factor: Estimate, faults_per_week: float, costs: RetireCosts, *, saves_chance: float) -> Retirement:
    """Weigh one controller. factor: its faults as a multiple of those of a typical one in its place, faults_per_week: of the
    latter; saves_chance: that its factor is above `costs.even_factor`.
    """
    typical = costs.typical(faults_per_week)
    replace = costs.unit_price + typical
    saving = Estimate(*(one * typical - replace for one in (factor.estimate, factor.low, factor.high)))
    advice = Retire.REPLACE if saves_chance >= LIKELY else Retire.KEEP if saves_chance <= UNLIKELY else Retire.CANNOT_TELL
    return Retirement(factor.estimate * typical, replace, saving, saves_chance, advice)
