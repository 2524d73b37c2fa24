"""What a planned clean and a fault cost: settings, else price list, else record; what none says is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from pipelines.answers.bench_money import BenchGathering
from pipelines.answers.cleaning_record import CleaningRecord
from pipelines.answers.lot_money import Missing, Source
from pipelines.decisions.cleaning_interval import Costs
from pipelines.settings import Settings
from pipelines.vocabulary import PriceKind

#: The settings that planned cleaning is asked for by, in the order of the screen.
INTERVAL_COSTS = (
    "labour_per_hour", "clean_minutes", "consumables_per_clean", "replace_minutes", "part_cost", "callout_cost", "downtime_hours",
    "downtime_per_hour", "refund_per_fault", "harm_share", "restored_share",
)  # fmt: skip


@dataclass(frozen=True)
class IntervalMoney:
    """costs: None where something is missing; missing, sources: as in `lot_money`."""

    costs: Costs | None
    sources: list[Source]
    missing: list[Missing]


def interval_money(
    record: CleaningRecord, families: Mapping[str | None, int], depth: str | None, replaced_share: float, settings: Settings
) -> IntervalMoney:  # fmt: skip
    """Gather both costs, the mean of these families weighed by their failures.

    depth: of the planned clean; replaced_share: of faults that take a new part. A fault costs the work of a clean, the part
    and its fitting where it takes one, going for it, the hours out of use and the refund.
    """
    found = {family: _of_family(record, family, depth, replaced_share, settings) for family in families or {None: 1}}
    sources = list({(one.name, *one.of): one for money in found.values() for one in money.sources}.values())
    lacking: dict[str, Missing] = {}
    for money in found.values():
        for one in money.missing:
            known = lacking.get(one.name)
            lacking[one.name] = one if known is None else replace(known, of=[*known.of, *one.of])
    missing = [replace(one, of=[]) if len(one.of) == len(found) else one for one in lacking.values()]
    if missing:
        return IntervalMoney(None, sources, missing)
    total = sum(families.values()) or 1
    weight = {family: count / total for family, count in families.items()} or {None: 1.0}
    planned, fault = (
        sum(weight[family] * getattr(money.costs, name) for family, money in found.items()) for name in ("planned", "fault")
    )
    return IntervalMoney(Costs(planned, fault), sources, [])


def _of_family(
    record: CleaningRecord, family: str | None, depth: str | None, replaced_share: float, settings: Settings
) -> IntervalMoney:  # fmt: skip
    found = _FloorGathering(record, family, settings)
    labour, minutes, supplies = found.labour(), found.minutes("clean_minutes", depth), found.consumables(depth)
    fitting, part = (found.minutes("replace_minutes", "new_part"), found.part()) if replaced_share else (0.0, 0.0)
    callout, hours, refund = found.callout(), found.down_hours(), found.refund()
    per_hour = 0.0 if hours == 0 else found.down_per_hour()
    missing = found.taken()
    if missing:
        return IntervalMoney(None, found.sources, missing)
    planned = labour * minutes + supplies
    fault = planned + replaced_share * (labour * fitting + part) + callout + hours * per_hour + refund
    return IntervalMoney(Costs(planned, fault), found.sources, [])


class _FloorGathering(BenchGathering):
    """What a fault costs on the floor besides the work at the bench."""

    def callout(self) -> float | None:
        return self._given_or_mean("callout_cost", PriceKind.CALLOUT)

    def down_per_hour(self) -> float | None:
        down = self._record.downtime
        told = (down.revenue_mean, down.revenue_count) if down.revenue_count else None
        return self._given_or_mean("downtime_per_hour", PriceKind.DOWNTIME_PER_HOUR, told)

    def down_hours(self) -> float | None:
        down = self._record.downtime
        return self._given_or_mean("downtime_hours", None, (down.hours_mean, down.stop_count) if down.stop_count else None)

    def refund(self) -> float | None:
        return self._given_or_mean("refund_per_fault", None)

    def _given_or_mean(self, name: str, kind: PriceKind | None, told: tuple[float, int] | None = None) -> float | None:
        """Return the setting, else the mean of what the price list has (of all sites), else what the record tells."""
        if (given := getattr(self._settings, name)) is not None:
            return self._said(name, "setting", given)
        prices = self._record.lots.prices
        listed = prices.loc[prices["kind"] == kind, "amount"] if kind else prices["amount"].iloc[:0]
        if len(listed):
            return self._said(name, "prices", float(listed.mean()))
        return self._said(name, "record", *told) if told else self._wanted(name)
