"""`answer batch-inspection`: what incoming inspection found in batches, against its plan, its tester and the field."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.answers.batch_inspection_record import (
    BatchInspection,
    Chart,
    ChartPoint,
    FieldBatch,
    FieldPart,
    Inspected,
    InspectionCase,
    PlanTold,
    TesterPart,
)
from pipelines.answers.batch_reading import read_batches
from pipelines.answers.inspection_plan import case_of, plan_told, plans_of, power_of
from pipelines.answers.question import Asked, asked
from pipelines.answers.tester_study import StudyFacts, measure_of, study_facts, study_of
from pipelines.decisions.inspection import agreement
from pipelines.estimates.acceptance import Plan
from pipelines.estimates.control_chart import creep, share_chart
from pipelines.estimates.equal_age import matched
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.inspected_field import LEAST_BATCHES, field_trend
from pipelines.estimates.pass_fail import misread_share
from pipelines.estimates.proportion import wilson
from pipelines.facts.inspections import inspections
from pipelines.facts.read import Connection
from pipelines.vocabulary import Because, Question
from pipelines.wording import batch_inspection as wording


@dataclass(frozen=True)
class InspectionFacts:
    """What the log says of inspections, read once and asked often. rows: as `facts.inspections.inspections`; field: batch →
    faults and faults expected at equal age."""

    study: StudyFacts
    rows: pd.DataFrame
    field: dict[str, tuple[int, float]]


def batch_inspection(connection: Connection, asked: Asked) -> BatchInspection:
    """Answer from the log. Raises SettingError on words of the case that it does not know."""
    return inspection_of(inspection_facts(connection, asked), asked)


def inspection_facts(connection: Connection, asked: Asked) -> InspectionFacts:
    """Return the inspections, the study of the tester, and how the batches did in the field; of `asked` only the settings."""
    rows = inspections(connection)
    return InspectionFacts(study_facts(connection), rows, _in_the_field(connection, asked) if len(rows) else {})


def _in_the_field(connection: Connection, asked: Asked) -> dict[str, tuple[int, float]]:
    """Return by batch its faults with others beside them, and those expected, as `batch-verdict` has them."""
    reading = read_batches(connection, asked)
    if reading.cells is None:
        return {}
    told = matched(reading.cells, np.ones(reading.cells.batch_count, dtype=bool))
    return {
        batch: (int(observed), float(expected))
        for batch, observed, expected in zip(reading.read.batches, told.observed, told.expected, strict=True)
        if expected > 0
    }


def inspection_of(facts: InspectionFacts, asked: Asked) -> BatchInspection:
    """Answer from facts read before. Raises SettingError."""
    known = facts.rows
    case = case_of(asked.case, known["batch"].unique(), known["characteristic"].unique())
    mine = known[known["characteristic"] == case.characteristic] if case.characteristic else known
    shown = mine[mine["batch"] == case.batch] if case.batch else mine
    rows = [_inspected(row, case, asked.level) for row in shown.itertuples()]
    # a batch is judged by the others of its supplier, so charts and the field are of all
    usable = mine[(mine["bad_count"] <= mine["tested_count"])]
    names = sorted(set(shown["characteristic"]))
    answer = BatchInspection(
        question=asked.question.value, level=asked.level, log_start=facts.study.log.log_start, log_end=facts.study.log.log_end,
        settings=asked.settings.as_plain(), because=None if len(known) else Because.NOT_RECORDED, sentence="", warnings=[],
        case=case, rows=rows, used_plan=_used_plan(rows, case), plans=plans_of(case),
        charts=_charts(usable[usable["characteristic"].isin(names) & usable["supplier"].isin(shown["supplier"].dropna())]),
        testers=[_tester(name, usable[usable["characteristic"] == name], facts.study, asked) for name in names],
        fields=[_field(usable[usable["characteristic"] == name], name, facts, asked.level) for name in names],
    )  # fmt: skip
    return replace(answer, sentence=wording.whole_sentence(answer), warnings=wording.warnings(answer))


def _inspected(row, case: InspectionCase, level: float) -> Inspected:
    tested, bad = int(row.tested_count), int(row.bad_count)
    accept, received = _whole(row.acceptance_number), _whole(row.received_count)
    aql = None if pd.isna(row.aql_pct) else float(row.aql_pct)
    because = None
    if bad > tested or (received is not None and tested > received) or (accept is not None and accept >= tested):
        because = Because.CONTRADICTION
    elif accept is None:
        because = Because.NOT_RECORDED
    share = Estimate.refused(Because.CONTRADICTION) if bad > tested else wilson(bad, tested, level=level)
    told = because is None
    return Inspected(
        row.batch, _text(row.supplier), _text(row.part_type), received, row.inspected_on, row.characteristic,
        _text(row.level_letter), tested, bad, share, aql, accept, row.decision, because,
        agreement(row.decision, is_within=bad <= accept) if told else None,
        power_of(Plan(tested, accept, received), aql, case.producer_risk, case.consumer_risk) if told else None,
    )  # fmt: skip


def _used_plan(rows: Iterable[Inspected], case: InspectionCase) -> PlanTold | None:
    """Return the plan used most, of a process; of one batch that of its last inspection, of its lot where the size is known."""
    told = [one for one in rows if one.because is None]
    if not told:
        return None
    if case.batch is not None:
        one = told[-1]
        plan = Plan(one.tested, one.acceptance_number, one.received)
        return plan_told(plan, case, origin="used", aql_pct=one.aql_pct, letter=one.level_letter, inspections=1)
    counts = Counter((one.tested, one.acceptance_number, one.aql_pct) for one in told)
    ((tested, accept, aql), count), *_ = counts.most_common(1)
    return plan_told(Plan(tested, accept), case, origin="used", aql_pct=aql, inspections=count)


def _charts(rows: pd.DataFrame) -> list[Chart]:
    """Return a chart for each supplier and characteristic."""
    return [_chart(*names, some) for names, some in rows.groupby(["supplier", "characteristic"], sort=True)]


def _chart(supplier: str, characteristic: str, rows: pd.DataFrame) -> Chart:
    if len(rows) < LEAST_BATCHES:
        return Chart(supplier, characteristic, Because.TOO_FEW_BATCHES, None, None, [], None, [])
    bad, tested, names = (rows[name].to_numpy() for name in ("bad_count", "tested_count", "batch"))
    chart, crept = share_chart(bad, tested), creep(bad, tested)
    points = [
        ChartPoint(batch, day, float(share), float(low), float(high), bool(is_outside))
        for batch, day, share, low, high, is_outside in zip(
            names, rows["inspected_on"], bad / tested, chart.low, chart.high, chart.is_outside, strict=True
        )
    ]
    return Chart(
        supplier, characteristic, None, chart.middle, chart.luck, [one.batch for one in points if one.is_outside],
        None if crept is None else str(names[crept]), points,
    )  # fmt: skip


def _tester(characteristic: str, rows: pd.DataFrame, study: StudyFacts, asked_for: Asked) -> TesterPart:
    measure = measure_of(characteristic)
    if measure is None:
        return TesterPart(characteristic, None, Because.NOT_RECORDED, None, None, None, None)
    words = asked(
        Question.TESTER_STUDY, by=(), where={}, clock=None, level=asked_for.level, settings=asked_for.settings,
        case={"measure": measure},
    )  # fmt: skip
    told = study_of(study, words)
    share = next((one.spread_share for one in told.components if one.name == "tester"), None)
    found = rows["bad_count"].sum() / rows["tested_count"].sum() if len(rows) else 0.0
    misread = None
    if share is not None and 0 < found < 1:
        misread = Estimate(*(misread_share(found, end) for end in (share.estimate, share.low, share.high)))
    return TesterPart(characteristic, measure, told.because, told.verdict, share, float(found), misread)


def _field(rows: pd.DataFrame, characteristic: str, facts: InspectionFacts, level: float) -> FieldPart:
    """Return inspection against the field, several inspections of a batch together."""
    sums = rows.groupby("batch")[["bad_count", "tested_count"]].sum()
    batches = [
        FieldBatch(str(batch), int(bad), int(tested), *facts.field[batch])
        for batch, bad, tested in sums.itertuples()
        if batch in facts.field
    ]
    columns = ([getattr(one, name) for one in batches] for name in ("bad", "tested", "failures", "expected"))
    trend = field_trend(*map(np.array, columns), level=level)
    return FieldPart(
        characteristic, trend.because, trend.ratio, trend.real_share, trend.ratio_if_known, len(sums) - len(batches), batches
    )


def _whole(value: object) -> int | None:
    return None if pd.isna(value) else int(value)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
