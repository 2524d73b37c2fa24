"""The record of incoming inspection: the JSON contract, word for word. Shares run from 0 to 1, what was agreed is in percent."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Agreement, Because, StudyVerdict


@dataclass(frozen=True)
class InspectionCase:
    """What was asked about; None: not asked for. lot: units in a delivery to come; shares in percent, risks as chances."""

    batch: str | None
    characteristic: str | None
    lot: int | None
    aql: float | None
    level: str
    good_pct: float | None
    bad_pct: float | None
    producer_risk: float
    consumer_risk: float


@dataclass(frozen=True)
class PlanPower:
    """What a plan lets through. producer_share: lots up to it are refused with at most the producer's risk; consumer_share:
    those from it on pass with at most the consumer's; passes_at_aql, passes_at_twice: chances at the quality limit and at
    twice it (None: no limit is agreed, or twice it is more than all)."""

    producer_share: float
    consumer_share: float
    passes_at_aql: float | None
    passes_at_twice: float | None


@dataclass(frozen=True)
class Inspected:
    """One inspection. share: nonconforming; agreement: of the decision with the plan, and power: of the plan, None where
    `because` says why it cannot be judged."""

    batch: str
    supplier: str | None
    part_type: str | None
    received: int | None
    inspected_on: str
    characteristic: str
    level_letter: str | None
    tested: int
    bad: int
    share: Estimate
    aql_pct: float | None
    acceptance_number: int | None
    decision: str
    because: Because | None
    agreement: Agreement | None
    power: PlanPower | None


@dataclass(frozen=True)
class CurvePoint:
    """Of lots with `share` nonconforming: the chance to pass; outgoing_share: what then goes out on average if refused lots are
    tested whole and bad units replaced (None: of a process, whose lots have no size)."""

    share: float
    pass_chance: float
    outgoing_share: float | None


@dataclass(frozen=True)
class PlanTold:
    """A plan with its operating curve. origin: `used` (by `inspections` of the record), `iso_2859_1`, `two_points` or
    `zero_accepted`; lot: its size, None: of a process; because: why there is none."""

    origin: str
    letter: str | None
    sample: int | None
    acceptance_number: int | None
    lot: int | None
    aql_pct: float | None
    inspections: int | None
    because: Because | None
    power: PlanPower | None
    curve: list[CurvePoint]


@dataclass(frozen=True)
class ChartPoint:
    """A batch in its chart, with the control limits of its sample size."""

    batch: str
    inspected_on: str
    share: float
    low: float
    high: float
    is_outside: bool


@dataclass(frozen=True)
class Chart:
    """Successive batches of a supplier for one characteristic. luck: the chance that any lies outside though all are alike;
    creeps_from: the batch at which the shares were found to have crept up, None: nowhere."""

    supplier: str
    characteristic: str
    because: Because | None
    middle: float | None
    luck: float | None
    outside: list[str]
    creeps_from: str | None
    points: list[ChartPoint]


@dataclass(frozen=True)
class TesterPart:
    """What a study of the tester says of a characteristic that is a measure. because: why it says nothing; misread_share: of the
    sticks found nonconforming, those that would be good, were sticks spread as in the study; found_share: nonconforming of all.
    """

    characteristic: str
    measure: str | None
    because: Because | None
    verdict: StudyVerdict | None
    spread_share: Estimate | None
    found_share: float | None
    misread_share: Estimate | None


@dataclass(frozen=True)
class FieldBatch:
    """A batch at inspection and in the field: nonconforming of those tested, faults against those expected at equal age."""

    batch: str
    bad: int
    tested: int
    failures: int
    expected: float


@dataclass(frozen=True)
class FieldPart:
    """Whether inspection told the field. ratio: of faults, for one percentage point more nonconforming; real_share,
    ratio_if_known: as `estimates.inspected_field.FieldTrend`; left_out: batches inspected of which the field tells nothing."""

    characteristic: str
    because: Because | None
    ratio: Estimate
    real_share: float | None
    ratio_if_known: float | None
    left_out: int
    batches: list[FieldBatch]


@dataclass(frozen=True)
class BatchInspection(AskedRecord):
    """The whole answer. rows: by day; used_plan: the one used most (of one batch: that of its last inspection)."""

    level: float
    case: InspectionCase
    rows: list[Inspected]
    used_plan: PlanTold | None
    plans: list[PlanTold]
    charts: list[Chart]
    testers: list[TesterPart]
    fields: list[FieldPart]
