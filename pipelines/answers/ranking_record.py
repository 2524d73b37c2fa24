"""The record of a ranking of families: the JSON contract, word for word. Money in the log's currency, for one unit."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import PricedRecord
from pipelines.decisions.family_advice import Advice
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.ranks import Rank
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class RankingCase:
    """condition: of `StatedCondition`; is_usual: nobody named it, it is that of most units bought lately; prices: as given."""

    condition: str
    is_usual: bool
    prices: dict[str, float]


@dataclass(frozen=True)
class PaidPrice:
    """What a unit costs, fees in. origin: `given`, `last_year` or `earlier` (lots of the family, so many), None without any."""

    origin: str | None
    lots: int
    price: Estimate


@dataclass(frozen=True)
class FamilyRow:
    """One family: what its units turn into and earn. is_thin: under 8 finished units of its own, so the others tell of it;
    is_borrowed: some of its bench work or money is told by the others."""

    family: str
    because: Because | None
    advice: Advice
    rank: Rank
    profit_per_unit: Estimate
    earn_chance: float | None
    paid: PaidPrice
    good_share: Estimate
    cleaned_share: Estimate
    bench_h_per_unit: Estimate
    bench_h_per_profit: Estimate
    units: int
    lots: int
    is_thin: bool
    is_borrowed: bool


@dataclass(frozen=True)
class Ranking(PricedRecord):
    """The whole answer; families: the best first, thin ones after the others, last those of which no profit can be told."""

    case: RankingCase | None
    warranty_days: int | None
    lots: int
    units: int
    best: str | None
    families: list[FamilyRow]
