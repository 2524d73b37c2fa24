"""Looks up each cost and price of a lot where it stands, and keeps what stands nowhere."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipelines.answers.lot_record import LotRecord
from pipelines.estimates.cell_means import cell_means
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import Amount, DrawnShare, Portion
from pipelines.estimates.lot_return import LotReturns
from pipelines.logs.spelling import fold
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Fate, Grade, PriceKind

#: From so many sales of the last year on, a family's older ones are not used.
ENOUGH_RECENT = 8
#: Draws of the share of returns, and their seed.
DRAWS, SEED = 5000, 8


@dataclass(frozen=True)
class Offer:
    """A lot that is offered: family → stated condition, and its seller (None: any); is_average: over all sellers and lots."""

    conditions: Mapping[str, str]
    seller: str | None = None
    is_average: bool = False

    def returned(self, told: LotReturns) -> DrawnShare:
        """Return draws of the share of its sold units that come back, a column a family."""
        luck = {"count": DRAWS, "rng": np.random.default_rng(SEED)}
        if self.is_average:
            condition = next(iter(self.conditions.values()))
            return told.on_average(list(self.conditions), condition=condition, **luck)
        return told.of_lot(self.conditions, seller=self.seller, **luck)


class Gathering:
    """One method an input of `LotInputs` and `Fees`; each returns the input, or None and says in `missing` what to give.

    missing: setting → families that lack it (none: all alike); sources: name, origin, amount, count, families;
    borrowed: families without units or sales of their own; warranty_days: that `returned` is for, of the lot `offer`, else of
    all sales together. units: of the lot, for its fees.
    """

    def __init__(
        self, record: LotRecord, families: list[str], settings: Settings, *, units: int | None = None, offer: Offer | None = None
    ) -> None:
        self._record, self._families, self._settings, self._units, self._offer = record, families, settings, units, offer
        self._list = [(one.kind, [fold(part) for part in one.key.split("/")], one.amount) for one in record.prices.itertuples()]
        listed = {parts[0] for kind, parts, _ in self._list if kind == PriceKind.RESALE}
        self._names = {*listed, *(fold(one) for one in (*record.families, *families))}
        self.missing: dict[str, list[str]] = {}
        self.sources: list[tuple] = []
        self.borrowed: set[str] = set()
        self.warranty_days = self._warranty()

    def resale(self) -> Amount | None:
        if (given := self._given("resale_price")) is not None:
            return Amount(given)
        sales = self._sales()
        seen = [one for one in self._families if one in set(sales["family"])]
        mean, error, unit_sd = (np.zeros((len(self._families), len(FATES))) for _ in range(3))
        if seen:
            told = cell_means(sales, seen)
            at = [self._families.index(one) for one in seen]
            mean[at], error[at], unit_sd[at] = told.mean, told.mean_se, told.unit_sd
            self._say("resale_price", "record", None, int(sales.loc[sales["family"].isin(seen), "n"].sum()), seen)
        lacking = []
        for place, family in enumerate(self._families):
            if family in seen:
                continue
            if (price := self._list_price(family)) is None:
                lacking.append(family)
            else:
                mean[place], unit_sd[place] = price
                self._say("resale_price", "prices", price[0], None, [family])
        return self._wanted("resale_price", lacking) if lacking else Amount(mean, error, unit_sd)

    def other_fault(self) -> Portion | None:
        given = self._given("other_fault_share")
        return self._wanted("other_fault_share") if given is None else Portion(given)

    def bench_h(self) -> Amount | None:
        if (given := self._given("bench_hours_per_unit")) is not None:
            return Amount(given)
        return self._by_cell("bench_hours_per_unit", "timed_count", "bench_mean_h", "bench_sd_h")

    def labour_per_h(self) -> Amount | None:
        return self._given_or_listed("labour_per_hour", PriceKind.LABOUR_PER_HOUR)

    def parts_per_unit(self) -> Amount | None:
        work = self._record.work
        parts = work["sensors_per_unit"] + work["modules_per_unit"] + work["boards_per_unit"]
        # the least that whole numbers of this mean can differ
        rows = work.assign(n=work["unit_count"], mean=parts, sd=np.sqrt((parts % 1) * (1 - parts % 1)))
        found = cell_means(rows, self._families)
        return Amount(0.0) if isinstance(found, Because) else found

    def part_cost(self) -> Amount | None:
        if (given := self._given("part_cost")) is not None:
            return Amount(given)
        amounts, lacking = [], []
        for family in self._families:
            amount, count = self._listed(PriceKind.PART, family), None
            if amount is None:
                amount, count = self._paid_per_part(family)
            if amount is None:
                lacking.append(family)
            else:
                amounts.append([amount])
                self._say("part_cost", "prices" if count is None else "record", amount, count, [family])
        return self._wanted("part_cost", lacking) if lacking else Amount(np.array(amounts))

    def consumables(self) -> Amount | None:
        if (given := self._given("consumables_per_clean")) is not None:
            return Amount(np.array([[0.0 if fate is Fate.WORKS else given for fate in FATES]]))
        columns = ("consumables_costed_count", "consumables_mean", "consumables_sd")
        return self._by_cell("consumables_per_clean", *columns)

    def selling_fee(self) -> Portion | None:
        found = self._given_or_listed("selling_fee_share", PriceKind.SELLING_FEE_PCT, scale=0.01)
        return None if found is None else Portion(found.mean)

    def freight_out(self) -> Amount | None:
        return self._given_or_listed("freight_out", PriceKind.FREIGHT_OUT)

    def returned(self) -> Portion | DrawnShare | None:
        if (given := self._given("return_share")) is not None:
            return Portion(given)
        if self.warranty_days is None:
            return self._wanted("warranty_days")
        if self.warranty_days == 0:
            return Portion(0.0)
        told, sales = self._record.returned(self.warranty_days), self._record.returns
        if isinstance(told, Because):
            return self._wanted("return_share")
        if self._offer is None:
            self._say("return_share", "record", told.share, int(sales["sale_count"].sum()))
            return Portion(told.share, told.followed)
        found, own = self._offer.returned(told), sales.groupby("family")["sale_count"].sum()
        for family, share in zip(self._families, found.mean.ravel().tolist(), strict=True):
            self._say("return_share", "record", share, int(own.get(family, 0)), [family])
        return found

    def return_cost(self) -> Amount | None:
        given = self._given("return_cost")
        if given is not None or self.warranty_days == 0 or self._settings.return_share == 0:
            return Amount(given or 0.0)
        return self._wanted("return_cost")

    def harvest(self) -> Amount | None:
        if (given := self._given("harvest_value")) is not None:
            return Amount(given)
        amounts, lacking = [], []
        for family in self._families:
            amount, count = self._graded(family).get(fold(Grade.PARTS)), None
            if amount is None:
                amount, count = self._brought_by_scrap(family)
            if amount is None:
                lacking.append(family)
            else:
                amounts.append([amount])
                self._say("harvest_value", "prices" if count is None else "record", amount, count, [family])
        return self._wanted("harvest_value", lacking) if lacking else Amount(np.array(amounts))

    def buyer_premium_share(self) -> float | None:
        return self._given_or_usual("buyer_premium_share", lambda lots: lots["buyer_premium"] / lots["lot_price"])

    def tax_share(self) -> float | None:
        return self._given_or_usual(
            "tax_share", lambda lots: lots["tax"] / (lots["lot_price"] + lots["buyer_premium"].fillna(0))
        )  # fmt: skip

    def inbound_freight(self) -> float | None:
        return self._given_or_usual("inbound_freight", lambda lots: self._units * lots["freight"] / lots["bought_count"])

    def _given(self, name: str) -> float | None:
        value = getattr(self._settings, name)
        if value is not None:
            self._say(name, "setting", value)
        return value

    def _say(self, name: str, origin: str, amount: float | None, count: int | None = None, of: list[str] | None = None) -> None:
        self.sources.append((name, origin, amount, count, of or []))

    def _wanted(self, name: str, of: list[str] | None = None) -> None:
        self.missing[name] = of or []

    def _warranty(self) -> int | None:
        if (given := self._given("warranty_days")) is not None:
            return given
        given = self._record.warranties
        if not len(given):
            return None
        self._say("warranty_days", "record", float(given["warranty_days"].iloc[0]), int(given["sale_count"].iloc[0]))
        return int(given["warranty_days"].iloc[0])

    def _given_or_listed(self, name: str, kind: PriceKind, *, scale: float = 1.0) -> Amount | None:
        """Return one number for all families, or one a family where the list has it so."""
        if (given := self._given(name)) is not None:
            return Amount(given)
        listed = [self._listed(kind, family) for family in self._families]
        lacking = [family for family, amount in zip(self._families, listed, strict=True) if amount is None]
        if lacking:
            return self._wanted(name, [] if len(lacking) == len(listed) else lacking)
        amounts = [amount * scale for amount in listed]
        if len(set(amounts)) == 1:
            self._say(name, "prices", amounts[0])
            return Amount(amounts[0])
        if kind is PriceKind.LABOUR_PER_HOUR:
            return self._wanted(name)
        for family, amount in zip(self._families, amounts, strict=True):
            self._say(name, "prices", amount, None, [family])
        return Amount(np.array(amounts)[:, None])

    def _listed(self, kind: PriceKind, family: str) -> float | None:
        """Return the one amount listed for a family, else the one that is for no family; None where there are several."""
        of_kind = [(parts, amount) for one, parts, amount in self._list if one == kind]
        own = {amount for parts, amount in of_kind if fold(family) in parts}
        general = {amount for parts, amount in of_kind if not self._names & set(parts)}
        found = own or general
        return float(found.pop()) if len(found) == 1 else None

    def _graded(self, family: str) -> dict[str, float]:
        """Return the listed resale prices of a family by grade; '' where none is named."""
        return {
            " ".join(parts[1:]): float(amount)
            for kind, parts, amount in self._list
            if kind == PriceKind.RESALE and parts[0] == fold(family)
        }

    def _list_price(self, family: str) -> tuple[float, float] | None:
        """Return the listed price of a family never sold and its SD, by the grades of the others' sales where it has several."""
        listed = self._graded(family)
        listed.pop(fold(Grade.PARTS), None)
        if len(set(listed.values())) == 1:
            return next(iter(listed.values())), 0.0
        sold = self._record.resale
        mix = sold[sold["fate"] != Fate.SCRAP].groupby("grade")["sold_count"].sum()
        shares = {fold(grade): count / mix.sum() for grade, count in mix.items()}
        if not shares or not set(shares) <= set(listed):
            return None
        mean = sum(share * listed[grade] for grade, share in shares.items())
        return mean, sum(share * (listed[grade] - mean) ** 2 for grade, share in shares.items()) ** 0.5

    def _sales(self) -> pd.DataFrame:
        """Return sales by family and fate, grades together: n, mean, sd; the last year's alone where a family has enough."""
        sold = self._record.resale[self._record.resale["fate"] != Fate.SCRAP]
        recent = sold.groupby("family")["recent_count"].transform("sum") >= ENOUGH_RECENT
        rows = pd.DataFrame({
            "family": sold["family"], "fate": sold["fate"],
            **{name: np.where(recent, sold[f"recent_{late}"], sold[early]).astype(float)
               for name, late, early in (("n", "count", "sold_count"), ("mean", "mean", "price_mean"), ("sd", "sd", "price_sd"))},
        })  # fmt: skip
        rows = rows[rows["n"] > 0]
        squares = (rows["n"] - 1) * rows["sd"].fillna(0) ** 2 + rows["n"] * rows["mean"] ** 2
        sums = rows.assign(total=rows["n"] * rows["mean"], squares=squares)
        found = sums.groupby(["family", "fate"], as_index=False)[["n", "total", "squares"]].sum()
        found["mean"] = found["total"] / found["n"]
        left = np.maximum(found["squares"] - found["n"] * found["mean"] ** 2, 0)
        found["sd"] = np.sqrt(left / (found["n"] - 1).where(found["n"] > 1))
        return found

    def _by_cell(self, name: str, count: str, mean: str, sd: str) -> Amount | None:
        """Return an amount by family and fate from the record of bench work."""
        work = self._record.work
        rows = work.assign(n=work[count], mean=work[mean], sd=work[sd])
        found = cell_means(rows, self._families)
        if isinstance(found, Because):
            return self._wanted(name)
        own = rows[rows["family"].isin(self._families)].groupby("family")["n"].sum()
        self.borrowed |= {family for family in self._families if not own.get(family, 0)}
        self._say(name, "record", None, int(rows["n"].sum()))
        return found

    def _paid_per_part(self, family: str) -> tuple[float | None, int | None]:
        work = self._record.work
        own = work[(work["family"] == family) & (work["parts_costed_count"] > 0)]
        parts = own["sensors_per_unit"] + own["modules_per_unit"] + own["boards_per_unit"]
        fitted = float((parts * own["parts_costed_count"]).sum())
        paid = float((own["parts_mean"] * own["parts_costed_count"]).sum())
        return (paid / fitted, round(fitted)) if fitted else (None, None)

    def _brought_by_scrap(self, family: str) -> tuple[float | None, int | None]:
        """Return what a scrapped unit brought on average, where some were sold for parts."""
        sold, work = self._record.resale, self._record.work
        own = sold[(sold["family"] == family) & (sold["fate"] == Fate.SCRAP)]
        count = int(work.loc[(work["family"] == family) & (work["fate"] == Fate.SCRAP), "unit_count"].sum())
        return (float((own["sold_count"] * own["price_mean"]).sum()) / count, count) if len(own) and count else (None, None)

    def _given_or_usual(self, name: str, of_lot) -> float | None:
        """Return the setting, else the median over the lots of the last year before the record's day, else over all lots."""
        if (given := self._given(name)) is not None:
            return given
        usual = of_lot(self._bought).replace([np.inf, -np.inf], np.nan).dropna()
        if not len(usual):
            return self._wanted(name)
        self._say(name, "record", float(usual.median()), len(usual))
        return float(usual.median())

    @cached_property
    def _bought(self) -> pd.DataFrame:
        """Return one row per lot with its price, fees and units; prices written on each line of a mixed lot count once."""
        record = self._record
        lines = record.lines[record.lines["is_listed"] & record.lines["bought_on"].notna()]
        last = pd.Timestamp(record.as_of or dt.date.fromisoformat(record.log_end)) if record.as_of or record.log_end else None
        if last is not None:
            lines = lines[lines["bought_on"] < last] if record.as_of else lines[lines["bought_on"] <= last]
            recent = lines[lines["bought_on"] > last - pd.Timedelta(days=365)]
            lines = recent if len(recent) else lines
        money = ["lot_price", "buyer_premium", "freight", "tax"]
        each = lines[money].where(~lines["is_price_repeated"].astype(bool) | ~lines.duplicated("lot_id"), 0.0)
        counted = lines[["lot_id"]].join(each).join(lines["bought_count"].astype(float))
        return counted.groupby("lot_id").sum(min_count=1)
