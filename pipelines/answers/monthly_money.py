"""What a bench hour and an hour out of use cost at each site: settings, else price list, else record; else asked for."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd

from pipelines.answers.lot_money import Missing, Source
from pipelines.answers.monthly_facts import MonthFacts
from pipelines.logs.spelling import fold
from pipelines.settings import Settings
from pipelines.vocabulary import PriceKind

#: The settings that the cost of a month is asked for by.
MONTH_COSTS = ("labour_per_hour", "downtime_per_hour", "part_cost")
#: Where fewer of the fitted modules than this have a price on record, a price is asked for.
PRICED_AT_LEAST = 0.8


@dataclass(frozen=True)
class MonthMoney:
    """costs: one row per site and period_no: labour, parts, downtime, squares (of each controller's work and each stop, summed),
    all in money; None where something is missing.
    """

    costs: pd.DataFrame | None
    sources: list[Source]
    missing: list[Missing]


def month_money(facts: MonthFacts, settings: Settings) -> MonthMoney:
    """Price the work and the stops by a stick of every month, at the prices of the month asked for."""
    found = _Gathering(facts, settings)
    work = facts.work.assign(site=facts.work["site"].fillna(""))
    stops = None if facts.stops is None else facts.stops[facts.stops["is_stick"].astype(bool)]
    labour = found.by_site("labour_per_hour", PriceKind.LABOUR_PER_HOUR, work["site"])
    part = found.part(work)
    down = None
    if stops is not None and len(stops):
        stops = stops.assign(site=stops["site"].fillna(""))
        down = found.by_site("downtime_per_hour", PriceKind.DOWNTIME_PER_HOUR, stops["site"], stops)
    if found.missing:
        return MonthMoney(None, found.sources, found.missing)
    each = pd.DataFrame({
        "site": work["site"], "period_no": work["period_no"],
        "labour": work["minutes"] / 60 * work["site"].map(labour),
        "parts": work["parts_cost"] + part * (work["module_count"] - work["costed_count"]),
    })  # fmt: skip
    each["squares"] = (each["labour"] + each["parts"]) ** 2
    rows = [each]
    if down is not None:
        per_hour = stops["site"].map(down)
        priced = per_hour.notna()
        rows.append(pd.DataFrame({
            "site": stops["site"], "period_no": stops["period_no"],
            "downtime": np.where(priced, stops["hours"] * per_hour, stops["takings"]),
            "squares": np.where(priced, stops["hours_squared"] * per_hour**2, stops["takings_squared"]),
        }))  # fmt: skip
    names = ["labour", "parts", "downtime", "squares"]
    costs = pd.concat(rows, ignore_index=True).reindex(columns=["site", "period_no", *names]).fillna(dict.fromkeys(names, 0.0))
    return MonthMoney(costs.groupby(["site", "period_no"], as_index=False)[names].sum(), found.sources, [])


class _Gathering:
    """Looks up one cost after another."""

    def __init__(self, facts: MonthFacts, settings: Settings) -> None:
        self._prices, self._settings = facts.prices, settings
        self._help = {one.name: one.metadata for one in fields(Settings)}
        known = {*facts.watched["site"].dropna(), *facts.work["site"].dropna()}
        known |= set() if facts.stops is None else set(facts.stops["site"].dropna())
        self._known = {fold(one) for one in known}
        self.sources: list[Source] = []
        self.missing: list[Missing] = []

    def by_site(self, name: str, kind: PriceKind, sites: pd.Series, stops: pd.DataFrame | None = None) -> dict[str, float]:
        """Return site ('' where it is not recorded) → money an hour. One with takings on record in `stops` is not in it."""
        given = getattr(self._settings, name)
        names = sorted(set(sites))
        if given is not None:
            self._say(name, "setting", given)
            return dict.fromkeys(names, given)
        listed = {fold(key): amount for kind_, key, amount in self._rows() if kind_ == kind}
        general = {amount for key, amount in listed.items() if key not in self._known}
        found, lacking = {}, []
        for site in names:
            amount = listed.get(fold(site)) if site else None
            if amount is None and len(general) == 1:
                amount = next(iter(general))
            if amount is not None:
                found[site] = float(amount)
            elif stops is None or not self._is_written(stops[stops["site"] == site]):
                lacking.append(site)
            else:
                own = stops[stops["site"] == site]
                hour = float(own["takings"].sum() / own["priced_hours"].sum())
                self._say(name, "record", hour, int(own["stop_count"].sum()), [site] if site else [])
        amounts = set(found.values())
        for amount in sorted(amounts):
            of = (
                []
                if len(amounts) == 1 and len(found) == len(names)
                else [one for one, its in found.items() if its == amount and one]
            )
            self._say(name, "prices", amount, None, of)
        if lacking:
            self._want(name, [] if len(lacking) == len(names) else [one or "site not recorded" for one in lacking])
        return found

    def part(self, work: pd.DataFrame) -> float:
        """Return what a module fitted at a price not on record costs; it is asked for where those are many, else left out."""
        given = self._settings.part_cost
        if given is not None:
            self._say("part_cost", "setting", given)
            return given
        fitted, priced = int(work["module_count"].sum()), int(work["costed_count"].sum())
        if fitted and priced < PRICED_AT_LEAST * fitted:
            self._want("part_cost", [])
        return 0.0

    @staticmethod
    def _is_written(stops: pd.DataFrame) -> bool:
        """Tell whether the takings of nearly all hours are on record."""
        return bool(stops["priced_hours"].sum() >= PRICED_AT_LEAST * stops["hours"].sum() > 0)

    def _rows(self):
        return self._prices[["kind", "key", "amount"]].itertuples(index=False, name=None)

    def _say(self, name: str, origin: str, amount: float, count: int | None = None, of: list[str] | None = None) -> None:
        self.sources.append(Source(name, origin, amount, count, of or []))

    def _want(self, name: str, of: list[str]) -> None:
        self.missing.append(Missing(name, self._help[name]["unit"], self._help[name]["help"], of))
