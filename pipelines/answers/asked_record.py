"""What the answers to questions of a case have in common: the JSON contract, word for word."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.lot_money import Missing, Source
from pipelines.answers.record import plain
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class AskedRecord:
    """What was asked of which log, under which settings, and the answer in words. because: why there is none, else None."""

    question: str
    log_start: str | None
    log_end: str | None
    settings: dict[str, object]
    because: Because | None
    sentence: str
    warnings: list[str]

    def to_dict(self) -> dict[str, object]:
        """Return plain dicts, lists, texts and numbers, ready for JSON."""
        return plain(self)


@dataclass(frozen=True)
class PricedRecord(AskedRecord):
    """An answer in money. asked_for: what must be given; sources: where each cost and price comes from."""

    level: float
    currency: str | None
    asked_for: list[Missing]
    sources: list[Source]


@dataclass(frozen=True)
class Band:
    """A tenth of the cases by the chance that was told of them: of n it came true in k."""

    chance: float
    k: float
    n: float
    share: float
    low: float
    high: float
