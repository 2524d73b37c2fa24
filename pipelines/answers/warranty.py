"""`answer warranty`: how many sold units come back by when, and how long a warranty stays within the accepted cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import pandas as pd

from pipelines.answers.lot_money import Missing
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.question import Asked
from pipelines.answers.warranty_record import Longest, ReturnPoint, Warranty, WarrantyGroup, Within
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.returned import ReturnedShares, returned_shares
from pipelines.facts.read import Connection
from pipelines.settings import Settings
from pipelines.vocabulary import Because, ReturnReason
from pipelines.wording import warranty as wording

#: Returns are told within so many days, and within the warranty that is given.
HORIZONS = (30, 60, 90, 180)
#: The reasons that a stronger repair would have avoided; one that is not known is counted apart.
FAULTS = (ReturnReason.DRIFT, ReturnReason.OTHER_FAULT)
#: What the user must supply.
WANTED = ("return_cost", "accepted_warranty_cost")


def warranty(connection: Connection, asked: Asked) -> Warranty:
    """Answer from the log. Raises InputError on several currencies."""
    return warranty_of(lot_record(connection), asked)


def warranty_of(record: LotRecord, asked: Asked) -> Warranty:
    """Answer from a record of lots read before."""
    settings, sales = asked.settings, _sales(record)
    words = {"level": asked.level, "min_watched": settings.min_at_risk}
    whole = [_group(one, sales, (), settings, record) for one in returned_shares(sales, by=(), **words)]
    groups = whole
    if asked.by:
        found = returned_shares(sales, by=asked.by, **words)
        parts = [part for _, part in sales.groupby(list(asked.by), dropna=False, sort=True)]
        groups = [_group(one, part, asked.by, settings, record) for one, part in zip(found, parts, strict=True)]
    because = None if any(one.because is None for one in groups) else Because.NO_SPELLS if not groups else groups[0].because
    help_of = {one.name: one.metadata for one in fields(Settings)}
    missing = [
        Missing(name, help_of[name]["unit"], help_of[name]["help"], []) for name in WANTED if getattr(settings, name) is None
    ]
    return Warranty(
        question=asked.question.value, by=list(asked.by), currency=record.currency, level=asked.level, log_start=record.log_start,
        log_end=record.log_end, settings=settings.as_plain(), because=because,
        sentence=whole[0].sentence if whole else wording.no_sales_sentence(),
        warnings=wording.warranty_warnings([one.counts for one in whole]), asked_for=missing, groups=groups,
    )  # fmt: skip


def _sales(record: LotRecord) -> pd.DataFrame:
    """Return the first sales under warranty as counts, with what was a fault and what is still watched."""
    sales = record.returns
    reason = sales["return_reason"]
    return sales.assign(
        is_fault=reason.isin(list(FAULTS)),
        is_unknown=sales["is_returned"] & (reason.isna() | (reason == ReturnReason.UNKNOWN)),
        is_young=~sales["is_returned"].astype(bool) & (sales["days"] < sales["warranty_days"]),
    )


def _group(
    found: ReturnedShares, sales: pd.DataFrame, by: Sequence[str], settings: Settings, record: LotRecord
) -> WarrantyGroup:  # fmt: skip
    count = sales["sale_count"]
    counts = {
        "sales": found.sales, "returned": found.returned, "returned_for_fault": found.for_fault,
        "reason_unknown": int(count[sales["is_unknown"]].sum()), "still_watched": int(count[sales["is_young"]].sum()),
    }  # fmt: skip
    longest_given = int(sales["warranty_days"].max())
    within = [_within(found, days, settings.return_cost) for days in _horizons(record, settings)]
    longest = _longest(found, settings)
    because = None if found.told_to else Because.TOO_FEW_AT_RISK
    return WarrantyGroup(
        by={column: None if pd.isna(value) else str(value) for column, value in zip(by, found.by, strict=True)},
        because=because, sentence=wording.group_sentence(counts, because, within, longest, longest_given, found.told_to,
                                                         settings.accepted_warranty_cost, record.currency),
        counts=counts, told_to=found.told_to, longest_given=longest_given, returns=_points(found.curve),
        fault_returns=_points(found.fault_curve), within=within, longest=longest,
    )  # fmt: skip


def _horizons(record: LotRecord, settings: Settings) -> list[int]:
    """Return the days within which returns are told, in order."""
    given = settings.warranty_days
    if given is None and len(record.warranties):
        given = int(record.warranties["warranty_days"].iloc[0])
    return sorted({*HORIZONS, *([given] if given else [])})


def _within(found: ReturnedShares, days: int, return_cost: float | None) -> Within:
    returned = found.within(days)
    if return_cost is None or returned.because is not None:
        cost = Estimate.refused(returned.because or Because.NOT_GIVEN)
    else:
        cost = Estimate(*(return_cost * one for one in (returned.estimate, returned.low, returned.high)))
    return Within(days, found.watched(days), returned, found.for_fault_within(days), cost)


def _longest(found: ReturnedShares, settings: Settings) -> Longest:
    cost, accepted = settings.return_cost, settings.accepted_warranty_cost
    if cost is None or accepted is None:
        return Longest(Because.NOT_GIVEN, None, None, None, False, False)
    share = min(accepted / cost, 1.0) if cost else 1.0
    told = found.longest(share)
    return Longest(told.because, share, told.likely_days, told.sure_days, told.is_likely_open, told.is_sure_open)


def _points(curve: pd.DataFrame) -> list[ReturnPoint]:
    limits = (curve[name].astype(object).where(curve[name].notna(), None) for name in ("low", "high"))
    columns = (curve["at"], curve["returned_share"], *limits, curve["at_risk"], curve["returned"], curve["is_drawn"])
    return [ReturnPoint(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]
