"""The record of past lots: the JSON contract, word for word. Money is in the log's currency, for the whole lot."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.lot_money import Missing
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lot_result import Differences
from pipelines.estimates.proportion import Share
from pipelines.estimates.winners_curse import Curse
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class PastLot:
    """One lot. bid: without fees; paid: with them; value: before the price; profit: value less what was paid.

    because: why it is not held against its forecast (then `reason` and `apart` are None, and there may be no forecast or no
    result); reason: the part of `apart` that cost most, where the result is under the forecast.
    """

    lot_id: str
    seller: str | None
    conditions: list[str]
    mix: dict[str, int]
    bought_on: str
    record_on: str | None
    is_prior_led: bool
    because: Because | None
    bid: float | None
    paid: float | None
    advised_bid: float | None
    is_bid_advised: bool | None
    loss_chance: float | None
    value_forecast: Estimate | None
    profit_forecast: Estimate | None
    value: float | None
    profit: float | None
    is_within: bool | None
    waiting: int
    apart: Differences | None
    reason: str | None


@dataclass(frozen=True)
class Sum:
    """Lots held against their forecasts, added up; money of those whose price is known."""

    lots: int
    paid: float
    forecast: float
    value: float

    @property
    def profit(self) -> float:
        return self.value - self.paid


@dataclass(frozen=True)
class Seller:
    """A seller's own record: `works` of `units` work as found; odds_ratio: against the average seller, shrunk; against: `better`,
    `worse` or `cannot_tell`, corrected for the number of sellers."""

    name: str
    lots: int
    works: int
    units: int
    odds_ratio: Estimate
    against: str


@dataclass(frozen=True)
class Backlog:
    """Units of lots that the bench has not finished, the hours they will take, and the weeks of the free hours."""

    lots: int
    units: int
    hours: Estimate
    hours_free_per_week: float | None
    weeks: Estimate


@dataclass(frozen=True)
class PastLots(AskedRecord):
    """The whole answer. level: of curse, sellers and `held`; forecast_level: of forecasts and backlog.

    held: how many results lay inside the forecast's interval; within_advice, over_advice: lots bought at most at the bid advised,
    and above it; disappointing: lots under their interval, the furthest first.
    """

    currency: str | None
    level: float
    forecast_level: float
    asked_for: list[Missing]
    lots: list[PastLot]
    held: Share
    all_scored: Sum
    within_advice: Sum
    over_advice: Sum
    disappointing: list[str]
    curse: Curse
    sellers: list[Seller]
    backlog: Backlog
    left_out: dict[str, int]
