"""`answer batch-containment`: where the modules of a batch are, what is left of it, and what its excess failures cost."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import pandas as pd

from pipelines.answers.batch_containment_record import (
    BatchCase,
    BatchContainment,
    BatchTold,
    Cost,
    Excess,
    HeldModule,
    Place,
    Stock,
    ToCome,
)
from pipelines.answers.batch_reading import BatchReading, read_batches
from pipelines.answers.batch_verdict import batch_verdict_of
from pipelines.answers.batch_verdict_record import BatchRow
from pipelines.answers.case import count, one_batch
from pipelines.answers.cleaning_money import interval_money
from pipelines.answers.lot_money import Missing, Source
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.question import LEVEL_OF_A_FORECAST, Asked
from pipelines.estimates.batch_excess import coming_failures, excess_failures
from pipelines.estimates.estimate import Estimate
from pipelines.facts.batch_modules import BatchModules
from pipelines.facts.floor import Downtime, stick_downtime
from pipelines.facts.read import Connection
from pipelines.facts.readings import bench_work
from pipelines.settings import Settings
from pipelines.vocabulary import Because, Hold, Whereabouts
from pipelines.wording import batch_containment as wording

#: Failures to come are told for so many days unless asked otherwise.
DAYS = 90
OF_IT = (Hold.FITTED, Hold.FOUND)


@dataclass(frozen=True)
class ContainmentRecord:
    """What the log says of batches and of what faults cost, read once; verdicts: by batch; lots, work, downtime: for costs."""

    batches: BatchReading
    verdicts: dict[str, BatchRow]
    lots: LotRecord
    work: pd.DataFrame
    downtime: Downtime


def batch_containment(connection: Connection, asked: Asked) -> BatchContainment:
    """Answer about the batch of `--case`. Raises SettingError where it is not named, or the log has no such batch."""
    return containment_of(connection, containment_record(connection, asked), asked)


def containment_record(connection: Connection, asked: Asked, *, lots: LotRecord | None = None) -> ContainmentRecord:
    """Read what every batch is held against. lots: read already. Raises InputError where money is in several currencies."""
    reading = read_batches(connection, asked)
    told = batch_verdict_of(reading, connection, replace(asked, is_brief=True, case={}))
    verdicts = {one.batch: one for one in told.batches}
    return ContainmentRecord(
        reading, verdicts, lots or lot_record(connection), bench_work(connection), stick_downtime(connection)
    )  # fmt: skip


def containment_of(connection: Connection, record: ContainmentRecord, asked: Asked) -> BatchContainment:
    """Answer about one batch from a record read before, and the modules of the batch."""
    numbers = record.batches.numbers.set_index("batch")
    case = _case(asked, list(numbers.index))
    held = BatchModules(connection, case.batch)
    modules = [_module(row) for row in held.rows().to_dict("records")]
    unrecorded, unrecorded_in_service = held.unrecorded()
    row, told = record.verdicts.get(case.batch), numbers.loc[case.batch]
    excess = _excess(row)
    coming = _coming(record.batches, case, excess, asked)
    cost, sources, missing = _cost(record, held.families(), modules, excess, coming, asked.settings)
    stock = _stock(told)
    parts = {
        "case": case, "batch": _told(told), "stock": stock, "counts": _counts(modules), "gone": _gone(modules),
        "unrecorded": unrecorded, "unrecorded_in_service": unrecorded_in_service, "sites": _sites(modules), "excess": excess,
        "to_come": coming, "cost": cost, "modules": modules,
    }  # fmt: skip
    words = {**parts, "currency": record.lots.currency, "level": asked.level}
    return BatchContainment(
        question=asked.question.value, log_start=record.batches.log_start, log_end=record.batches.log_end,
        settings=asked.settings.as_plain(), because=None if modules else Because.NO_SPELLS, sentence=wording.sentence(**words),
        warnings=wording.warnings(**words, missing=[one.name for one in missing]), asked_for=missing, sources=sources,
        level=asked.level, currency=record.lots.currency, clock=record.batches.clock.value, **parts,
    )  # fmt: skip


def _case(asked: Asked, known: list[str]) -> BatchCase:
    batch = one_batch(asked.case, known)
    return BatchCase(batch, count("days", asked.case["days"], low=1) if "days" in asked.case else DAYS)


def _module(row: dict[str, object]) -> HeldModule:
    known = {name: None if pd.isna(value) else value for name, value in row.items()}
    ages = {name: None if known[name] is None else float(known[name]) for name in ("age_days", "age_h")}
    coded = {"hold": Hold(known["hold"]), "state": Whereabouts(known["state"]), "failures": int(known.pop("failure_count"))}
    return HeldModule(**{**known, **ages, **coded})


def _told(row: pd.Series) -> BatchTold:
    known = {name: None if pd.isna(value) else value for name, value in row.items()}
    received, cost = known["received_on"], known["unit_cost"]
    return BatchTold(
        bool(row["is_on_record"]), known["supplier"], known["part_type"], None if received is None else str(received)[:10],
        None if cost is None else float(cost), bool(row["is_mixed"]), known["same_code_as"],
    )  # fmt: skip


def _stock(row: pd.Series) -> Stock:
    received = None if pd.isna(row["received_count"]) else int(row["received_count"])
    fitted, found = int(row["fitted_count"]), int(row["found_only_count"])
    return Stock(received, fitted, found, None if received is None else received - fitted - found)


def _counts(modules: list[HeldModule]) -> dict[str, int]:
    serving = [one for one in modules if one.state is Whereabouts.IN_SERVICE]
    mine = [one for one in serving if one.hold in OF_IT]
    return {
        "units": len({one.unit_id for one in mine}), "modules": len(mine), "may_carry": len(serving) - len(mine),
        "failed_before": sum(one.failures > 0 for one in mine),
        "in_warranty": sum(one.state is Whereabouts.SOLD_IN_WARRANTY and one.hold in OF_IT for one in modules),
    }  # fmt: skip


def _gone(modules: list[HeldModule]) -> dict[str, int]:
    found = Counter(one.state.value for one in modules if one.hold in OF_IT and one.state is not Whereabouts.IN_SERVICE)
    return dict(sorted(found.items(), key=lambda one: (-one[1], one[0])))


def _sites(modules: list[HeldModule]) -> list[Place]:
    units: dict[str | None, tuple[set[str], set[str]]] = {}
    for one in modules:
        if one.state is Whereabouts.IN_SERVICE:
            units.setdefault(one.site, (set(), set()))[one.hold not in OF_IT].add(one.unit_id)
    places = [Place(site, len(of_it), len(may - of_it)) for site, (of_it, may) in units.items()]
    return sorted(places, key=lambda one: (-one.carries, -one.may_carry, one.site is None, one.site or ""))


def _excess(row: BatchRow | None) -> Excess:
    if row is None or row.ratio.estimate is None or row.observed is None:
        because = Because.NO_COMPARISON if row is None else row.because or row.ratio.because or Because.NO_COMPARISON
        none = Estimate.refused(because)
        return Excess(because, row and row.verdict, row.failures if row else 0, row and row.observed, None, none, none)
    so_far = excess_failures(row.expected, row.ratio)
    return Excess(None, row.verdict, row.failures, row.observed, row.expected, row.ratio, so_far)


def _coming(reading: BatchReading, case: BatchCase, excess: Excess, asked: Asked) -> ToCome:
    place = reading.read.batches.index(case.batch) if reading.read and case.batch in reading.read.batches else None
    if place is None:
        none = Estimate.refused(Because.NO_COMPARISON)
        return ToCome(Because.NO_COMPARISON, 0, none, none)
    watched = int(reading.numbers.set_index("batch").loc[case.batch, "open_count"])
    found = coming_failures(
        watched, float(reading.expected_per_day[place]), excess.ratio, days=case.days, alike=float(reading.alike[place]),
        level=asked.level, of_level=LEVEL_OF_A_FORECAST,
    )  # fmt: skip
    return ToCome(found.failures.because, watched, found.failures, found.excess)


def _cost(
    record: ContainmentRecord, families: dict[str | None, int], modules: list[HeldModule], excess: Excess, coming: ToCome,
    settings: Settings,
) -> tuple[Cost, list[Source], list[Missing]]:  # fmt: skip
    """Return what the excess costs: the setting `fault_cost`, else the work, part and time out of use that a fault takes."""
    sources, missing, each = [], [], settings.fault_cost
    if each is not None:
        sources = [Source("fault_cost", "setting", each, None, [])]
    else:
        failed = [one for one in modules if one.hold in OF_IT and one.failures]
        replaced = sum(one.state is Whereabouts.REPLACED for one in failed) / max(sum(one.failures for one in failed), 1)
        money = interval_money(record, families, None, replaced, settings)
        sources, missing, each = money.sources, money.missing, money.costs and money.costs.fault
    if each is None:
        none = Estimate.refused(Because.NOT_GIVEN)
        return Cost(Because.NOT_GIVEN, None, none, none), sources, missing
    return Cost(None, each, _times(excess.so_far, each), _times(coming.excess, each)), sources, missing


def _times(one: Estimate, amount: float) -> Estimate:
    return Estimate(*(None if value is None else value * amount for value in (one.estimate, one.low, one.high)), one.because)
