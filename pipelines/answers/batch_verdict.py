"""`answer batch-verdict`: which supplier batches fail more often than others of their age; is it one batch or the supplier."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd

from pipelines.answers.batch_lives import batch_lives
from pipelines.answers.batch_reading import BatchReading, read_batches
from pipelines.answers.batch_stock import stated_stock
from pipelines.answers.batch_verdict_record import BatchRow, BatchVerdictAnswer, SupplierRow, SupplierView
from pipelines.answers.case import known_name
from pipelines.answers.question import Asked
from pipelines.decisions.batch_verdict import Judged, judge_batch, judge_supplier
from pipelines.errors import SettingError
from pipelines.estimates.batch_suppliers import Suppliers, supplier_ratios
from pipelines.estimates.batch_verdict import compare_batches
from pipelines.estimates.equal_age import BatchRatio
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.study_plan import needed_if_known
from pipelines.facts.read import Connection
from pipelines.vocabulary import BatchVerdict, Because
from pipelines.wording import batches as wording


def batch_verdict(connection: Connection, asked: Asked) -> BatchVerdictAnswer:
    """Answer from the log. Raises SettingError on a batch that the log does not have."""
    return batch_verdict_of(read_batches(connection, asked), connection, asked)


def batch_verdict_of(reading: BatchReading, connection: Connection, asked: Asked) -> BatchVerdictAnswer:
    """Answer from what was read before, of the same connection, filters and clock."""
    settings = asked.settings
    names = reading.numbers["batch"].tolist()
    reference = known_name("batch", asked.case["reference"], names) if "reference" in asked.case else None
    stock = stated_stock(connection, reading, asked)
    compared, suppliers, because = None, None, Because.NO_SPELLS if reading.cells is None else None
    if reading.cells is not None:
        because = Because.ONE_BATCH if len(reading.read.batches) < 2 else None
        is_mixed = reading.numbers.set_index("batch")["is_mixed"].reindex(reading.read.batches).to_numpy(bool)
        if reference is not None and reference not in reading.read.batches:
            raise SettingError(f"No module of batch {reference} was watched.", "Take another reference, or leave it out.")
        candidate = ~is_mixed if reference is None else np.array(reading.read.batches) == reference
        compared = compare_batches(
            reading.cells, reading.alike, is_candidate=candidate, false_discovery_share=settings.false_discovery,
            level=asked.level, noticed=settings.batch_ratio, is_fixed=reference is not None,
        )  # fmt: skip
        # against one batch few are compared, and a bad one that is not would pass for its supplier
        if because is None and reference is None and not asked.is_brief:
            suppliers = supplier_ratios(reading.cells, _suppliers(reading), reading.alikeness, level=asked.level)
    needed = needed_if_known(settings.batch_ratio, false_alarm=compared.false_alarm if compared else (1 - asked.level) / 2)
    lives = batch_lives(reading.lives, settings, alikeness=reading.alikeness or 1.0, level=asked.level)
    rows = [
        _row(one, reading, compared, suppliers, lives, stock, asked, needed=needed, reference=reference, because=because)
        for one in reading.numbers.to_dict("records")
    ]
    rows.sort(key=_order)
    return BatchVerdictAnswer(
        question=asked.question.value, log_start=reading.log_start, log_end=reading.log_end, settings=settings.as_plain(),
        because=because, sentence=wording.whole_sentence(rows, because, reference), warnings=wording.warnings(reading, rows),
        clock=reading.clock.value, level=asked.level, where=asked.where, reference=reference, needed=needed,
        alikeness=reading.alikeness, counts=_counts(rows), left_out=_left_out(reading, rows), batches=rows,
        suppliers=_supplier_view(suppliers, reading, rows, because, asked.level),
    )  # fmt: skip


def _row(one: dict, reading, compared, suppliers, lives, stock, asked, *, needed, reference, because) -> BatchRow:
    place = reading.read.batches.index(one["batch"]) if one["spell_count"] else None
    ratio, judged, reason = None, None, because
    if place is not None:
        ratio, reason = compared.ratios[place], _reason(compared.ratios[place], reading, place, because)
        if one["batch"] != reference and reason is None:
            judged = judge_batch(
                ratio, compared.p_adjusted[place], false_discovery=asked.settings.false_discovery, needed=needed,
                expected_per_day=float(reading.expected_per_day[place]),
            )  # fmt: skip
    else:
        reason = Because.NO_DENOMINATOR if one["found_only_count"] else Because.NO_SPELLS
    b10, b10_from = lives.get(one["batch"], (Estimate.refused(Because.TOO_FEW_FAILURES if place is not None else reason), None))
    shown = ratio is not None and one["batch"] != reference
    judged = judged or Judged(None)
    rank = suppliers.ranks[place] if suppliers is not None and place is not None else None
    row = BatchRow(
        batch=one["batch"], supplier=_known(one["supplier"]), part_type=_known(one["part_type"]),
        received_on=None if pd.isna(one["received_on"]) else str(one["received_on"])[:10], is_mixed=bool(one["is_mixed"]),
        is_on_record=bool(one["is_on_record"]), same_code_as=_known(one["same_code_as"]), because=reason,
        verdict=judged.verdict, sentence="", received=None if pd.isna(one["received_count"]) else int(one["received_count"]),
        fitted=one["fitted_count"], modules=one["spell_count"], controllers=one["unit_count"], failures=one["failure_count"],
        watched=one["open_count"], found_only=one["found_only_count"], observed=ratio.observed if shown else None,
        expected=ratio.of_others if shown else None, information=ratio.information if shown else None,
        ratio=ratio.ratio if shown else Estimate.refused(reason or Because.NOT_GIVEN), p_value=ratio.p_value if shown else None,
        p_adjusted=compared.p_adjusted[place] if shown else None,
        is_reference=bool(place is not None and compared.is_reference[place]), more_failures=judged.more_failures,
        more_months=judged.more_months, b10=b10, b10_from=b10_from, at_least=stock.get(one["batch"]),
        shrunk=suppliers.shrunk[place] if suppliers is not None and place is not None else None,
        rank_low=rank.low if rank else None, rank_high=rank.high if rank else None,
    )  # fmt: skip
    return replace(row, sentence=wording.batch_sentence(row, asked.settings.batch_ratio, reference))


def _reason(ratio: BatchRatio, reading: BatchReading, place: int, because: Because | None) -> Because | None:
    """Return why a batch that was watched is not compared at all."""
    if because is not None or ratio.because is not Because.NO_COMPARISON:
        return because
    sites = reading.read.strata["site"].to_numpy()[reading.cells.stratum]
    own = set(sites[reading.cells.batch == place])
    is_alone = not own & set(sites[reading.cells.batch != place]) and all(isinstance(site, str) for site in own)
    return Because.BATCH_IS_SITE if is_alone else Because.NO_COMPARISON


def _order(row: BatchRow) -> tuple:
    """Sort by verdict, and in it by what stands out most."""
    place = [BatchVerdict.WORSE, BatchVerdict.BETTER, BatchVerdict.NOT_SHOWN, BatchVerdict.CANNOT_TELL, None].index(row.verdict)
    return place, row.p_adjusted if row.p_adjusted is not None else 1.0, -(row.ratio.estimate or 0.0), row.batch


def _suppliers(reading: BatchReading) -> list[str | None]:
    return [_known(one) for one in reading.numbers.set_index("batch")["supplier"].reindex(reading.read.batches)]


def _known(name: object) -> str | None:
    return name if isinstance(name, str) else None


def _counts(rows: list[BatchRow]) -> dict[str, int]:
    found = Counter(row.verdict for row in rows if row.verdict is not None)
    return {one.value: found[one] for one in BatchVerdict} | {"not_compared": sum(row.because is not None for row in rows)}


def _left_out(reading: BatchReading, rows: list[BatchRow]) -> dict[str, int]:
    numbers = reading.numbers
    original, unnamed, several = reading.unnamed
    return {
        "original_modules": original, "no_batch": unnamed, "several_named": several,
        "no_usable_hours": reading.no_hours,
        "no_length": int(numbers["no_length_count"].sum()) - reading.no_hours,
        "found_only": int(numbers["found_only_count"].sum()),
        "failures_alone": sum(row.failures - row.observed for row in rows if row.observed is not None),
    }  # fmt: skip


def _supplier_view(
    found: Suppliers | None, reading: BatchReading, rows: list[BatchRow], because: Because | None, level: float
) -> SupplierView:  # fmt: skip
    if found is None or found.because is not None:
        reason = because or (found.because if found is not None else Because.NOT_GIVEN)
        return SupplierView(reason, wording.suppliers_refused(reason), Estimate.refused(reason), [])
    bad = {row.batch for row in rows if row.verdict is BatchVerdict.WORSE}
    names = zip(reading.read.batches, _suppliers(reading), strict=True)
    left = [None if batch in bad else supplier for batch, supplier in names]
    rest = supplier_ratios(reading.cells, left, reading.alikeness) if bad else found
    # several suppliers are looked at, and any of them may stand out by luck (Bonferroni)
    others = {one.supplier: one.ratio_at(1 - (1 - level) / len(found.suppliers)) for one in rest.suppliers}
    told = []
    for one in found.suppliers:
        other = others.get(one.supplier, Estimate.refused(Because.ONE_SUPPLIER))
        own = [row for row in rows if row.supplier == one.supplier]
        worse = [row.batch for row in own if row.verdict is BatchVerdict.WORSE]
        verdict = judge_supplier(other, len(worse))
        said = wording.supplier_sentence(one.supplier, one.ratio, other, worse, verdict)
        told.append(SupplierRow(one.supplier, one.batch_count, worse, one.failures, one.ratio, other, verdict, said))
    told.sort(key=lambda row: -row.ratio.estimate)
    alone = {row.supplier for row in rows if row.supplier is not None and row.modules} - {one.supplier for one in told}
    return SupplierView(None, wording.suppliers_sentence(told, sorted(alone)), found.spread, told)
