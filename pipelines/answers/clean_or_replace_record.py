"""The record of the advice on a stick: the JSON contract, word for word. Money per stick, in the log's currency."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import Band, PricedRecord
from pipelines.answers.bench_case import BenchCase
from pipelines.answers.lot_money import Missing
from pipelines.decisions.clean_or_replace import Costs
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because, Course


@dataclass(frozen=True)
class NextClean:
    """One of the coming cleans, if those before it failed: how-many-th of its module, the chances that it passes and holds."""

    attempt_number: int
    pass_chance: float
    hold_chance: float


@dataclass(frozen=True)
class DepthOption:
    """Cleaning first to one depth; attempts, passed: cleans of that depth on the same family."""

    depth: str | None
    attempts: int
    passed: int
    because: Because | None
    pass_chance: Estimate
    clean_cost: float | None
    expected_cost: float | None


@dataclass(frozen=True)
class Calibration:
    """Chances predicted for each clean from other controllers, held against what happened; see `estimates.reliability`."""

    because: Because | None
    attempts: int
    bands: list[Band]
    slope: Estimate
    intercept: Estimate
    brier: float | None
    plain_brier: float | None
    log_loss: float | None
    plain_log_loss: float | None


@dataclass(frozen=True)
class BenchRest:
    """What the advice rests on: cleans on record and how many passed; alike: those of the same family, mode, mechanism, sensor
    and depth, as far as said; columns: what the chances take account of."""

    attempts: int
    passed: int
    alike_attempts: int
    alike_passed: int
    columns: list[str]


@dataclass(frozen=True)
class CleanOrReplace(PricedRecord):
    """The whole answer."""

    case: BenchCase
    not_weighed: list[Missing]
    warranty_days: float
    rests_on: BenchRest
    unlike: list[str]
    depth: str | None
    pass_chance: Estimate
    hold_chance: Estimate
    part_hold_chance: Estimate
    costs: Costs
    course: Course | None
    expected_cost: dict[str, float]
    margin: float | None
    sure_share: float | None
    is_close: bool
    is_rule_of_thumb: bool
    clean_until: int | None
    after_cleans: Course | None
    coming: list[NextClean]
    depths: list[DepthOption]
    reliability: Calibration | None = None
