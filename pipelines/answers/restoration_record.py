"""The record of what cleans give back: the groups of the question restoration."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class CleanEffect:
    """One depth of clean: the share of age it gives back, and the share still good at the horizon."""

    depth: str
    cleans: int
    restoration_share: Estimate
    holding_share: Estimate


@dataclass(frozen=True)
class RestorationGroup:
    """One group of the question restoration. memory: whole or last; is_memory_told: the other fits clearly worse.

    is_by_cause: shape and shares are of the failures that cleans reach. fit_p: p-value that the law holds after cleans.
    """

    by: dict[str, str | int | None]
    because: Because | None
    sentence: str
    counts: dict[str, int]
    memory: str | None
    is_memory_told: bool
    shape: Estimate
    variance_between: float | None
    log_likelihood: float | None
    effects: list[CleanEffect]
    is_by_cause: bool = False
    fit_p: float | None = None
