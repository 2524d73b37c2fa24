"""The record of a bid: the JSON contract, word for word. Money in the log's currency, for the whole lot unless it says unit."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import PricedRecord
from pipelines.answers.lot_case import LotCase
from pipelines.decisions.bid import AtBid, Bid, BreakEven, Swing
from pipelines.decisions.lot_test import ArrivalAdvice, SampleAdvice
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lot_fate import ExpectedFate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Borrowed:
    """What the record does not know of its own: `condition`, `family`, `seller` or `money` (of a family), told by others."""

    what: str
    name: str


@dataclass(frozen=True)
class RestsOn:
    """Finished units of past lots. is_prior_led: one lot does not tell how much lots differ."""

    lots: int
    units: int
    is_prior_led: bool
    borrowed: list[Borrowed]


@dataclass(frozen=True)
class Graded:
    """What first sales of a family in one grade (None: not noted) brought; share of its sales."""

    family: str
    grade: str | None
    sales: int
    share: float
    price: float


@dataclass(frozen=True)
class Expected:
    """What the lot is expected to bring, with the middle 80 %. sold: units, after other faults; revenue: less the selling fee;
    value: revenue less cost, before the price of the lot; per_unit: profit of a unit at `at_bid`."""

    sold: Estimate
    bench_h: Estimate
    parts: Estimate
    returns: Estimate
    revenue: Estimate
    cost: Estimate
    value: Estimate
    at_bid: float
    per_unit: Estimate


@dataclass(frozen=True)
class Even:
    """BreakEven at a bid: of units that can be sold; works_share: the same as a share of units that work as found, the others
    turning out as expected."""

    at_bid: float
    can_be_sold: BreakEven
    works: BreakEven


@dataclass(frozen=True)
class Tested:
    """What a test of `tested` units, `good` of them working as found, changed. found_at_most_chance, found_at_least_chance: of so
    few or fewer and of so many or more before the test, by family; bid_before: the highest bid without it (None: none)."""

    tested: int
    good: int
    found_at_most_chance: dict[str, float]
    found_at_least_chance: dict[str, float]
    works: Estimate
    effective_draws: float
    bid_before: float | None
    because: Because | None


@dataclass(frozen=True)
class Testing:
    """How many more units of a family to test before paying `at_bid`, a test costing `cost_per_test`."""

    family: str
    at_bid: float
    cost_per_test: float
    advice: SampleAdvice


@dataclass(frozen=True)
class Capacity:
    """Whether the bench has the hours. weeks: that the lot takes; fit_chance: that it is done in `weeks_allowed`."""

    hours_free_per_week: float | None
    weeks: Estimate
    weeks_allowed: float | None
    fit_chance: float | None
    because: Because | None


@dataclass(frozen=True)
class SellerRecord:
    """The seller's own lots, `works` of `units` working as found; odds_ratio: of a unit that works, against the average seller,
    shrunk."""

    name: str
    lots: int
    works: int
    units: int
    odds_ratio: Estimate


@dataclass(frozen=True)
class LotBid(PricedRecord):
    """The whole answer. arrived_mix: family → units that came; once a lot has come all is of those, and there is no bid."""

    case: LotCase
    warranty_days: int | None
    rests_on: RestsOn
    fates: list[ExpectedFate]
    grades: list[Graded]
    expected: Expected | None = None
    bid: Bid | None = None
    asking: AtBid | None = None
    value_quantiles: list[float] | None = None
    break_even: Even | None = None
    sensitivity: list[Swing] | None = None
    test: Tested | None = None
    testing: Testing | None = None
    arrival: ArrivalAdvice | None = None
    capacity: Capacity | None = None
    seller: SellerRecord | None = None
    arrived_mix: dict[str, int] | None = None
