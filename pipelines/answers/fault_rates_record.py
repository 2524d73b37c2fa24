"""The record of fault rates: the JSON contract, word for word. Times in the answer's clock, money in the log's currency."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.lot_money import Missing
from pipelines.decisions.retire import Retirement
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class Place:
    """A site, side, seat or technician, as `estimates.place_rates.PlaceRate`.

    rate_per_1000: faults per 1,000 play hours, or days; of a technician None, instead jobs and back_share are given.
    """

    name: str
    because: Because | None
    units: int
    failures: int
    exposure: float
    expected: float
    rate_per_1000: Estimate | None
    jobs: int | None
    back_share: Estimate | None
    ratio: float | None
    luck_low: float | None
    luck_high: float | None
    p_adjusted: float | None
    is_worse: bool


@dataclass(frozen=True)
class Comparison:
    """Places of one kind held against each other: `station`, `site`, `stick` or `technician`; those that stand out first.

    worse: the names of those with more faults than luck explains; spread: the coefficient of variation between controllers that
    luck takes in; unplaced_failures: faults of which the place is not known.
    """

    what: str
    because: Because | None
    sentence: str
    worse: list[str]
    spread: float | None
    unplaced_failures: int
    places: list[Place]


@dataclass(frozen=True)
class Repeated:
    """A controller in service that failed three times or more. factor: its faults as a multiple of those expected, shrunk;
    faults_per_week: expected of a typical one in its place; money: None (`not_given`) as long as a cost is asked for."""

    unit: str
    family: str | None
    site: str | None
    failures: int
    expected: float
    factor: Estimate
    faults_per_week: float
    because: Because | None
    money: Retirement | None


@dataclass(frozen=True)
class FaultRates(AskedRecord):
    """The whole answer. stays, overlapping: of controllers at seats, on record; untold_spells: watched without usable hours."""

    clock: str
    currency: str | None
    level: float
    asked_for: list[Missing]
    stays: int
    overlapping: int
    untold_spells: int
    comparisons: list[Comparison]
    retire_sentence: str
    repeated: list[Repeated]
