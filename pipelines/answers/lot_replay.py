"""Past lots once more: what the record of the day would have forecast for each, beside what came of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from pipelines.answers.lot_bought import Bought, bought_lots, by_lot, came_of
from pipelines.answers.lot_gathering import Offer
from pipelines.answers.lot_money import lot_money
from pipelines.answers.lot_record import LotRecord, fates_of, lot_record, returned_of
from pipelines.decisions.bid import Bid, Fees, at_bid, highest_bid
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lot_fate import FATES, LotFates
from pipelines.estimates.lot_inputs import Amount, LotInputs, Portion
from pipelines.estimates.lot_result import Came, Differences, differences, expected_value
from pipelines.estimates.lot_return import LotReturns
from pipelines.estimates.lot_value import lot_values
from pipelines.estimates.weighted import quantile
from pipelines.facts.lots import Lots, known_before
from pipelines.facts.money import prices
from pipelines.facts.read import Connection
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Fate

DRAWS, SEED = 2000, 6
#: The interval of a forecast holds this share of its draws.
SHOWN = 0.8
#: A lot is held against its forecast once at most this share of its units is still out.
MOST_OUT = 0.1
#: The fates are estimated anew only once so many more units are finished, returns once sales were watched for so many more days.
GROWTH = 1.2


@dataclass(frozen=True)
class Forecast:
    """What the record of `record_on` said of a lot: its value before the price, and the highest bid (None: fees not known).

    sd: of the value. loss_chance: at the price that was paid, None where that is not known.
    """

    record_on: dt.date
    is_prior_led: bool
    value: Estimate
    sd: float
    bid: Bid | None
    loss_chance: float | None


@dataclass(frozen=True)
class Replayed:
    """One past lot. because: why it has no forecast, else why it has no result yet, else None; then it is scored.

    value: what came, before the price, with units that are still out (`waiting`) as expected; None where that cannot be told.
    apart: result less forecast in its parts, of scored lots.
    """

    lot: Bought
    forecast: Forecast | None
    value: float | None
    waiting: int
    apart: Differences | None
    because: Because | None

    @property
    def is_within(self) -> bool:
        return self.forecast.value.low <= self.value <= self.forecast.value.high


@dataclass(frozen=True)
class Replay:
    """All past lots in the order of purchase, the record as it stands now, and what came of units (`Lots.results`).

    left_out: lots that cannot be placed: `not_listed` (named by jobs only), `no_day`, `no_count` (of units bought).
    """

    record: LotRecord
    results: pd.DataFrame
    lots: list[Replayed]
    left_out: dict[str, int]


def replay(connection: Connection, settings: Settings, *, record: LotRecord | None = None) -> Replay:
    """Forecast each past lot from the record as it stood on the first of the month in which it was bought.

    Of fates, work, sales, returns and prices nothing later is used; costs from the settings are today's. A unit that was taken up
    again after that day counts as not finished then. The fates are estimated anew once a fifth more units are finished.
    record: that of the whole log, where it was read before.   Raises InputError as `lot_record`.
    """
    record = record or lot_record(connection)
    lots = Lots(connection)
    results, all_fates = lots.results(), lots.fates()
    (bought, left_out), of_lot = bought_lots(record.lines), by_lot(results)
    now = _known(record, _families(bought), settings)
    found = []
    for standing, of_month in _by_month(connection, lots, all_fates, record, bought):
        known = _known(standing, _families(of_month), settings)
        for lot in of_month:
            came = came_of(lot, of_lot.get(lot.lot_id, []), is_young=lot.is_young(record.log_end))
            inputs = known.of(lot)
            if standing.fates.because is None and inputs is not None:
                found.append(_replayed(lot, standing, inputs, came, settings))
            else:
                because = standing.fates.because or (Because.NOT_GIVEN if known.missing & now.missing else Because.NOT_KNOWN_THEN)
                found.append(Replayed(lot, None, _value(lot, record, now.of(lot), came), int(came.waiting.sum()), None, because))
    return Replay(record, results, found, left_out)


def _replayed(lot: Bought, standing: LotRecord, inputs: LotInputs, came: Came, settings: Settings) -> Replayed:
    units = _units(lot, standing.fates)
    values, mean_units = lot_values(units, inputs, seed=SEED), units.mean(axis=0)
    mean, tail = expected_value(mean_units, inputs), (1 - SHOWN) / 2
    low, high = (float(quantile(values.value, share)) for share in (tail, 1 - tail))
    fees = lot.fees or lot_money(standing, list(lot.mix), settings, units=sum(lot.mix.values())).fees
    bid = None if fees is None else highest_bid(values, fees=fees, loss_limit=settings.loss_limit, margin=settings.margin)
    loss = None if lot.paid is None else at_bid(values, 0.0, fees=Fees(0.0, 0.0, lot.paid)).loss_chance
    forecast = Forecast(
        standing.as_of, standing.fates.is_prior_led, Estimate(mean, low, high), float(values.value.std(ddof=1)), bid, loss
    )  # fmt: skip
    apart, waiting = differences(mean_units, inputs, came), int(came.waiting.sum())
    if waiting > MOST_OUT * sum(lot.mix.values()) or not came.units.sum():
        return Replayed(lot, forecast, None, waiting, None, Because.STILL_OUT)
    return Replayed(lot, forecast, mean + apart.total, waiting, apart, None)


def _units(lot: Bought, fates: LotFates) -> np.ndarray:
    """Return draws of the lot's fates, families in the order of its mix; those of another condition have luck of their own."""
    rng, found = np.random.default_rng(SEED), np.empty((DRAWS, len(lot.mix), len(FATES)), dtype=np.int64)
    for condition in dict.fromkeys(lot.conditions.values()):
        own = {family: units for family, units in lot.mix.items() if lot.conditions[family] == condition}
        places = [list(lot.mix).index(family) for family in own]
        found[:, places] = fates.draws(own, condition=condition, seller=lot.seller, count=DRAWS, rng=rng)
    return found


def _value(lot: Bought, record: LotRecord, inputs: LotInputs | None, came: Came) -> float | None:
    """Return what a lot without a forecast brought, by the inputs of today; None where it is still out or they are not known."""
    is_out = came.waiting.sum() > MOST_OUT * sum(lot.mix.values()) or not came.units.sum()
    if inputs is None or record.fates.because is not None or is_out:
        return None
    units = _units(lot, record.fates).mean(axis=0)
    return expected_value(units, inputs) + differences(units, inputs, came).total


def _by_month(
    connection: Connection, lots: Lots, all_fates: pd.DataFrame, record: LotRecord, bought: list[Bought]
) -> Iterator[tuple[LotRecord, list[Bought]]]:  # fmt: skip
    """Yield the record as it stood on the first of each month in which lots were bought, and those lots."""
    fates, fitted, returned, followed = None, 0, None, 0.0
    for first in sorted({lot.bought_on.replace(day=1) for lot in bought}):
        counts = known_before(all_fates, first)
        finished = counts[counts["fate"] != Fate.OPEN]
        units = int(finished["unit_count"].sum())
        if fates is None or units > GROWTH * fitted:
            fates, fitted = fates_of(counts), units
        returns = lots.returns(as_of=first)
        days = float((returns["days"] * returns["sale_count"]).sum())
        if returned is None or days > GROWTH * followed:
            returned, followed = returned_of(returns), days
        standing = replace(
            record, as_of=first, counts=counts, fates_told=fates, families=sorted(finished["family"].dropna().unique()),
            returned=returned, work=lots.work(as_of=first), resale=lots.resale(as_of=first), returns=returns,
            warranties=lots.warranties(as_of=first), prices=prices(connection, first),
            lines=record.lines[record.lines["bought_on"] < pd.Timestamp(first)],
        )  # fmt: skip
        yield standing, [lot for lot in bought if lot.bought_on.replace(day=1) == first]


@dataclass(frozen=True)
class _Known:
    """The inputs of those families that have all of them; missing: the settings by which to give the rest.

    returned: what the record tells of returns, None where the inputs do not have them from it.
    """

    families: list[str]
    inputs: LotInputs | None
    missing: set[str]
    returned: LotReturns | None

    def of(self, lot: Bought) -> LotInputs | None:
        """Return the inputs of a lot, a row for each family of its mix; None where a family lacks some."""
        if not set(lot.mix) <= set(self.families):
            return None
        places = [self.families.index(family) for family in lot.mix]

        def rows(value: float | np.ndarray | None) -> float | np.ndarray | None:
            return value[places] if np.ndim(value) == 2 and len(value) == len(self.families) else value

        def part(one: Amount | Portion) -> Amount | Portion:
            return replace(one, **{each.name: rows(getattr(one, each.name)) for each in fields(one)})

        of_families = LotInputs(**{each.name: part(getattr(self.inputs, each.name)) for each in fields(self.inputs)})
        if self.returned is None:
            return of_families
        return replace(of_families, returned=Offer(lot.conditions, lot.seller).returned(self.returned))


def _known(record: LotRecord, families: list[str], settings: Settings) -> _Known:
    missing: set[str] = set()
    while families:
        money = lot_money(record, families, settings)
        missing |= {one.name for one in money.missing}
        if money.inputs is not None:
            is_told = money.inputs.returned.is_estimated
            return _Known(families, money.inputs, missing, record.returned(money.warranty_days) if is_told else None)
        lacking = {family for one in money.missing for family in one.of}
        families = [] if any(not one.of for one in money.missing) else [one for one in families if one not in lacking]
    return _Known([], None, missing, None)


def _families(lots: Iterable[Bought]) -> list[str]:
    return sorted({family for lot in lots for family in lot.mix})
