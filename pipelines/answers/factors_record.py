"""The record of what goes with early drift: the groups of the question factors."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class LevelRatio:
    """One level of a factor (None: not recorded) against the reference level, whose ratios are 1.

    pooled: the rare levels that stand together under `other`.
    """

    factor: str
    level: str | None
    is_reference: bool
    spells: int
    failures: int
    hazard_ratio: Estimate
    life_ratio: Estimate
    pooled: list[str | None] = field(default_factory=list)


@dataclass(frozen=True)
class FactorCheck:
    """Whether one hazard ratio serves at every age (p adjusted by Holm over the factors)."""

    factor: str
    because: Because | None
    p_adjusted: float | None
    is_changing: bool | None


@dataclass(frozen=True)
class FactorGroup:
    """One group of the question factors. of: time-to-failure or recurrence; by is always empty.

    Factors left out: at_fault, which cannot be told from the others; one_level; blank on too many that did not fail.
    """

    by: dict[str, str | int | None]
    of: str
    because: Because | None
    sentence: str
    counts: dict[str, int]
    at_fault: list[str]
    one_level: list[str]
    ratios: list[LevelRatio]
    checks: list[FactorCheck]
    blank: list[str] = field(default_factory=list)
