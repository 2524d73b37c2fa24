"""The record of the early alarm: the JSON contract, word for word. Days are ISO dates; evidence is 1 at the start."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.vocabulary import AlarmLevel, Because


@dataclass(frozen=True)
class AtAlarm:
    """What was known on the day of an alarm. days: since the first module of the batch was fitted; failures, expected: those that
    count; found: all failures of the batch; fitted: its modules so far, and fitted_since from then to the end."""

    on: str
    days: int
    failures: int
    expected: float
    found: int
    fitted: int
    fitted_since: int


@dataclass(frozen=True)
class WatchedBatch:
    """A batch as watched to the end of the log.

    because: why it cannot be watched, or is not yet. fitted, found: its modules and all their failures; failures: those that can
    be held against others; expected: as many, had they been like the others. is_beyond_all: evidence reached `limit_of_all`.
    """

    batch: str
    supplier: str | None
    part_type: str | None
    is_mixed: bool
    level: AlarmLevel
    because: Because | None
    sentence: str
    first_fitted_on: str
    fitted: int
    found: int
    failures: int
    expected: float
    evidence: float
    highest_evidence: float
    watch: AtAlarm | None
    stop: AtAlarm | None
    is_beyond_all: bool


@dataclass(frozen=True)
class Look:
    """One batch at one look: what was known by then."""

    on: str
    evidence: float
    failures: int
    expected: float
    fitted: int


@dataclass(frozen=True)
class Replay:
    """The same batch watched in another way. against: the others it is held against: `period` (fitted in the same one), `any`
    (whenever fitted), `same_time` (at risk in the same look) or `other_suppliers`."""

    against: str
    tolerance: float
    watch_on: str | None
    stop_on: str | None
    highest_evidence: float
    failures: int
    expected: float


@dataclass(frozen=True)
class BatchAlarm(AskedRecord):
    """The whole answer. tolerance: how many times as bad as others is not worth an alarm; look_days: from one look to the next;
    watched_to: the last day of which failures are known; watch_limit, stop_limit: evidence for each alarm; limit_of_all: evidence
    which any of all watched batches reaches by luck with chance false_alarm at most; false_alarms_at_most: expected among them.

    shown: the batch that looks and replays are of.
    """

    tolerance: float
    look_days: int
    watched_to: str | None
    watch_limit: float
    stop_limit: float
    limit_of_all: float | None
    watched_batches: int
    false_alarms_at_most: float
    batches: list[WatchedBatch]
    shown: str | None
    looks: list[Look]
    replays: list[Replay]
