"""What the three courses cost for a stick of one family: settings, else price list, else record; what none says is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from pipelines.answers.bench_record import BenchRecord
from pipelines.answers.lot_gathering import Gathering
from pipelines.answers.lot_money import Missing, Source
from pipelines.decisions.clean_or_replace import Costs
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import Amount, Portion
from pipelines.logs.spelling import fold
from pipelines.settings import Settings
from pipelines.vocabulary import Fate, PriceKind

#: With fewer jobs of its own a family takes the mean of all.
ENOUGH_JOBS = 8
#: The settings that these costs are asked for by; the last four serve to weigh scrapping only.
BENCH_COSTS = (
    "labour_per_hour", "clean_minutes", "consumables_per_clean", "replace_minutes", "part_cost", "warranty_days", "return_cost",
    "resale_price", "selling_fee_share", "freight_out", "harvest_value",
)  # fmt: skip


@dataclass(frozen=True)
class BenchMoney:
    """costs: by depth of clean; missing: what must be given before anything can be advised; not_weighed: what must be given
    before scrapping can be weighed; sources: where each number comes from.
    """

    costs: dict[str | None, Costs]
    sources: list[Source]
    missing: list[Missing]
    not_weighed: list[Missing]


def bench_money(record: BenchRecord, family: str | None, depths: Sequence[str | None], settings: Settings) -> BenchMoney:
    """Gather what one clean, a new part, a return and scrap cost for a stick of this family, by depth of clean.

    A return costs what the setting `return_cost` says, all told, and at least a new part: the stick is bad again.
    """
    found = BenchGathering(record, family, settings)
    labour, part, minutes = found.labour(), found.part(), found.minutes("replace_minutes", "new_part")
    replace = _sum(part, _times(labour, minutes))
    cleans = {depth: _sum(found.consumables(depth), _times(labour, found.minutes("clean_minutes", depth))) for depth in depths}
    returned = found.a_return()
    missing = found.taken()
    working, scrap = found.working_value(), found.scrap_value()
    not_weighed = found.taken()
    is_weighed = not not_weighed
    costs = {
        depth: Costs(
            clean, replace, None if returned is None or replace is None else max(returned - replace, 0.0),
            working if is_weighed else None, scrap if is_weighed else None,
        )
        for depth, clean in cleans.items()
    }  # fmt: skip
    return BenchMoney(costs, found.sources, missing, not_weighed)


def known_costs(record: BenchRecord, families: Sequence[str], settings: Settings) -> tuple[list[Source], list[Missing]]:
    """Return where the costs of several families come from, and what none of their cleans can do without."""
    found = {family: bench_money(record, family, record.depths, settings) for family in families}
    sources = [one for money in found.values() for one in money.sources]
    lacking: dict[str, list[Missing]] = {}
    for money in found.values():
        for one in money.missing:
            lacking.setdefault(one.name, []).append(one)
    missing = [
        replace(some[0], of=[] if len(some) == len(found) else [family for one in some for family in one.of])
        for some in lacking.values()
    ]  # fmt: skip
    return list({(one.name, *one.of): one for one in sources}.values()), missing


class BenchGathering:
    """Looks up one cost after another; what is found nowhere is kept until it is `taken`.

    record: a `BenchRecord`, or another with its `lots` and `work`.
    """

    def __init__(self, record: BenchRecord, family: str | None, settings: Settings) -> None:
        self._record, self._settings, self._family = record, settings, family
        self._of = [] if family is None else [family]
        self._lots = Gathering(record.lots, self._of or [""], settings)
        self._own: list[Source] = []
        self._lacking: dict[str, None] = {}

    @property
    def sources(self) -> list[Source]:
        """Return one for each cost; its amount is None where depths of clean differ in it."""
        found: dict[str, Source] = {}
        for *first, of in self._lots.sources:
            found.setdefault(first[0], Source(*first, [one for one in of if one]))
        for one in self._own:
            known = found.setdefault(one.name, one)
            if known.amount != one.amount:
                found[one.name] = replace(known, amount=None)
        return list(found.values())

    def taken(self) -> list[Missing]:
        """Return what was asked for since last time and found nowhere."""
        names = dict.fromkeys((*self._lacking, *self._lots.missing))
        self._lacking.clear()
        self._lots.missing.clear()
        known = {one.name: one.metadata for one in fields(Settings)}
        return [Missing(name, known[name]["unit"], known[name]["help"], self._of) for name in names]

    def labour(self) -> float | None:
        return _number(self._lots.labour_per_h())

    def part(self) -> float | None:
        amount = _number(self._lots.part_cost())
        if amount is None and (told := self._mean("new_part", "parts_costed_count", "parts_mean", least=1, is_own=True)):
            self._lots.missing.pop("part_cost", None)
            return self._said("part_cost", "record", *told)
        return amount

    def minutes(self, name: str, work: str | None) -> float | None:
        """Return bench hours of a job of this kind; None as a kind means all cleans."""
        given = getattr(self._settings, name)
        if given is not None:
            return self._said(name, "setting", given) / 60
        told = self._mean(work, "timed_count", "minutes_mean")
        return self._said(name, "record", *told) / 60 if told else self._wanted(name)

    def consumables(self, depth: str | None) -> float | None:
        name = "consumables_per_clean"
        if (given := getattr(self._settings, name)) is not None:
            return self._said(name, "setting", given)
        if (listed := self._listed_clean(depth)) is not None:
            return self._said(name, "prices", listed)
        told = self._mean(depth, "consumables_costed_count", "consumables_mean")
        return self._said(name, "record", *told) if told else self._wanted(name)

    def a_return(self) -> float | None:
        return 0.0 if self._record.holds is None else _number(self._lots.return_cost())

    def working_value(self) -> float | None:
        price, fee, freight = (_number(one) for one in (self._lots.resale(), self._lots.selling_fee(), self._lots.freight_out()))
        return None if None in (price, fee, freight) else max(price * (1 - fee) - freight, 0.0)

    def scrap_value(self) -> float | None:
        return _number(self._lots.harvest())

    def _said(self, name: str, origin: str, amount: float, count: int | None = None, of: list[str] | None = None) -> float:
        self._own.append(Source(name, origin, amount, count, of or []))
        return amount

    def _wanted(self, name: str) -> None:
        self._lacking[name] = None

    def _listed_clean(self, depth: str | None) -> float | None:
        """Return the listed cost of such a clean: of this family first, else of the depth, else of any."""
        prices = self._record.lots.prices
        listed = prices[prices["kind"] == PriceKind.CLEAN_COST]
        keys = {tuple(sorted(fold(part) for part in key.split("/"))): float(amount)
                for key, amount in zip(listed["key"], listed["amount"], strict=True)}  # fmt: skip
        clean, family = fold(f"clean_{depth}"), fold(self._family or "")
        for key in (tuple(sorted((family, clean))), (family,), (clean,)):
            if key in keys:
                return keys[key]
        return None

    def _mean(
        self, work: str | None, count: str, mean: str, *, least: int = ENOUGH_JOBS, is_own: bool = False
    ) -> tuple[float, int, list[str]] | None:
        """Return the mean of such jobs, their number and the family where they are its own; None where there are none."""
        jobs = self._record.work
        jobs = jobs[(jobs["work"] == work) if work else (jobs["work"] != "new_part")]
        own = jobs[jobs["family"] == self._family]
        for some, enough, of in ((own, least, self._of), *(() if is_own else ((jobs, 1, []),))):
            if (size := int(some[count].sum())) >= enough:
                return float(np.average(some[mean].fillna(0), weights=some[count])), size, of
        return None


def _number(found: Amount | Portion | None) -> float | None:
    """Return one number for a unit of one family that a clean put right."""
    if found is None:
        return None
    value = np.asarray(found.mean if isinstance(found, Amount) else found.share, dtype=float)
    return float(np.broadcast_to(value, (1, len(FATES)))[0, FATES.index(Fate.CLEANED)] if value.ndim else value)


def _sum(*parts: float | None) -> float | None:
    return None if any(one is None or pd.isna(one) for one in parts) else sum(parts)


def _times(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one * other
