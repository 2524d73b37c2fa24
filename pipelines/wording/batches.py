"""Supplier batches against others of their age, as sentences. Records are those of `answers.batch_verdict_record`."""

from __future__ import annotations

from collections.abc import Sequence

from pipelines.vocabulary import BatchVerdict, Because, Clock, SupplierVerdict
from pipelines.wording.verdict import counted, limits_words, listed, reason_words

#: More than this are not named one by one.
_NAMED = 3
_WORD = {
    BatchVerdict.WORSE: "worse", BatchVerdict.BETTER: "better", BatchVerdict.NOT_SHOWN: "not shown to differ",
    BatchVerdict.CANNOT_TELL: "cannot tell yet",
}  # fmt: skip
_LEFT_OUT = {
    "original_modules": "modules that controllers came with, which are of no batch",
    "no_batch": "modules fitted without a batch on record",
    "several_named": "modules fitted with a label that names several batches, so they are of none for sure",
    "no_usable_hours": "modules watched in days but without usable play hours",
    "no_length": "modules that were never in service, or closed on the day they were fitted",
    "found_only": "modules whose batch was written only when they came in",
    "failures_alone": "failures with no other batch beside: same family, usage class, site, fitting period and age",
}


def verdict_word(verdict: BatchVerdict | None) -> str:
    """Return 'worse', or a dash for a batch that is not compared."""
    return _WORD[verdict] if verdict is not None else "–"


def left_out_words(key: str) -> str:
    """Return what a key of `left_out` counts, to follow its number."""
    return _LEFT_OUT[key]


def ratio_words(ratio) -> str:
    """Return '2.1', or what little is known of it."""
    if ratio.estimate is None:
        return "–" if ratio.low is None else f"over {_times(ratio.low)}"
    return _times(ratio.estimate)


def span_words(ratio) -> str:
    """Return '1.6 to 2.8'."""
    if ratio.low is None and ratio.high is None:
        return "–"
    return limits_words(ratio.low or None, ratio.high, _times)


def whole_sentence(rows: Sequence, because: Because | None, reference: str | None) -> str:
    """Say which batches stand out, and of how many nothing can be said yet."""
    if because is not None:
        why = "no module that was fitted with a batch on record (part_batch_fitted) was watched"
        return f"Batches cannot be compared: {why if because is Because.NO_SPELLS else reason_words(because)}."
    compared = [row for row in rows if row.verdict is not None]
    if not compared:
        return "No batch can be held against others: none stands beside another in the same place and at the same age."
    worse = [row for row in compared if row.verdict is BatchVerdict.WORSE]
    better = sum(row.verdict is BatchVerdict.BETTER for row in compared)
    young = sum(row.verdict is BatchVerdict.CANNOT_TELL for row in compared)
    beside = f"as batch {reference} does" if reference else "as others"
    other = f"batch {reference}" if reference else "others"
    parts = [_worse_words(row, beside) for row in worse[:_NAMED]]
    if worse:
        parts.append(f"{len(worse):,} of {counted(len(compared), 'batch', 'batches')} {_are(len(worse))} worse")
    else:
        parts = [f"No batch of {len(compared):,} is shown to fail more often than {other} at the same age"]
    if better:
        parts.append(f"{better:,} {_are(better)} better")
    if young:
        parts.append(f"{young:,} cannot be told yet: too few failures are to be expected so far")
    else:
        parts.append("all are old enough to tell")
    if alone := sum(row.verdict is None and row.modules > 0 and row.batch != reference for row in rows):
        parts.append(f"{alone:,} cannot be compared")
    return "; ".join(parts) + "."


def _worse_words(row, beside: str) -> str:
    if row.ratio.estimate is None:
        return f"Batch {row.batch} fails at least {_times(row.ratio.low)} times as often {beside} at the same age"
    return (
        f"Batch {row.batch} fails {_times(row.ratio.estimate)} times as often {beside} at the same age ({span_words(row.ratio)}; "
        f"{counted(row.observed, 'failure')}, {expected_words(row.expected)} expected)"
    )


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def batch_sentence(row, batch_ratio: float, reference: str | None) -> str:
    """Say what is known of one batch. batch_ratio: how many times as often one fails that should be noticed."""
    if row.batch == reference:
        return f"Batch {row.batch} is what the others are held against."
    if row.because is not None:
        return f"Batch {row.batch}: {_not_compared(row)}"
    seen = f"{counted(row.observed, 'failure')} where others of its age would have had {expected_words(row.expected)}"
    times = f"{ratio_words(row.ratio)} times as often" if row.ratio.estimate else "not one"
    said = {
        BatchVerdict.WORSE: f"fails more often than others: {seen}, {times} ({span_words(row.ratio)}).",
        BatchVerdict.BETTER: f"fails less often than others: {seen}, {times} ({span_words(row.ratio)}).",
        BatchVerdict.NOT_SHOWN: f"is not shown to differ: {seen} ({span_words(row.ratio)} times as often).",
        BatchVerdict.CANNOT_TELL: f"cannot be told yet: {seen}.",
    }[row.verdict]
    said = f"Batch {row.batch} {said}"
    if row.verdict is BatchVerdict.CANNOT_TELL:
        said += f" {_takes(row, batch_ratio)}"
    elif row.verdict is BatchVerdict.NOT_SHOWN and ((row.ratio.low or 0) > 1 or (row.ratio.high or 2) < 1):
        said += " With so many batches looked at, that may be luck."
    if row.is_mixed:
        said += " Its bin was mixed with others, so part of it is not of this batch: the true ratio lies further from 1."
    return said


def expected_words(failures: float) -> str:
    """Return '23.2', never nothing where there is a little."""
    return "none" if failures == 0 else "under 0.1" if failures < 0.05 else f"{failures:,.1f}"


def age_words(one) -> str:
    """Return '20 (15 to 26)', an age with its limits."""
    return "–" if one.estimate is None else f"{_age(one.estimate)} ({limits_words(one.low, one.high, _age)})"


def _age(value: float) -> str:
    return f"{value:,.0f}" if value >= 10 else f"{value:,.1f}"


def note(row) -> str:
    """Return what to mind of a batch in a table, in a few words."""
    parts = []
    if row.at_least is not None and row.at_least.estimate is not None:
        parts.append(f"at least {_times(row.at_least.estimate)} times (not under {_times(row.at_least.low)})")
    elif row.because is not None:
        parts.append(_reason(row.because))
    if row.more_failures is not None:
        parts.append(wait_words(row))
    if row.is_mixed:
        parts.append("mixed bin")
    if row.same_code_as:
        parts.append(f"or is it {row.same_code_as}?")
    if not row.is_on_record:
        parts.append("no delivery on record")
    return "; ".join(parts)


def wait_words(row) -> str:
    """Return how many more failures it takes, and how long that is."""
    if row.more_months is None:
        return f"too few failures, and {_stands_still(row)}"
    failures = max(round(row.more_failures), 1)
    return f"{counted(failures, 'more failure', 'more failures')}{_months(row)}"


def supplier_sentence(supplier: str, ratio, rest, worse: Sequence[str], verdict: SupplierVerdict) -> str:
    """Say of one supplier whether it is all of its batches or one of them. rest: its ratio without batches found worse."""
    whole = f"{supplier}: its batches taken together fail {_span(ratio)} times as often as those of the other suppliers"
    if verdict is SupplierVerdict.WORSE:
        return f"{whole}" + (f", and {_span(rest)} times without {listed(worse)}: it is the supplier." if worse else ".")
    if verdict is SupplierVerdict.BATCHES:
        left = f"without {listed(worse)} {_span(rest)}" if rest.estimate is not None else "nothing else of it can be compared"
        return f"{whole}, {left}: it is {listed(worse)}, and the rest of the supplier is not shown to be worse."
    return f"{whole}." if verdict is SupplierVerdict.BETTER else f"{whole}: not shown to differ."


def _span(ratio) -> str:
    return f"{ratio_words(ratio)} ({span_words(ratio)})"


def suppliers_sentence(rows: Sequence, alone: Sequence[str]) -> str:
    """Say whether it is one batch or the supplier. alone: suppliers whose modules stand beside no other supplier's."""
    whole = [row.supplier for row in rows if row.verdict is SupplierVerdict.WORSE]
    single = [row for row in rows if row.verdict is SupplierVerdict.BATCHES]
    parts = []
    if whole:
        parts.append(
            f"It is the supplier: all batches of {listed(whole)} taken together fail more often than those of the others"
        )
    if single:
        names = "; ".join(f"{listed(row.worse)} of {row.supplier}" for row in single)
        parts.append(f"it is single batches ({names}), not all that the supplier delivers" if parts
                     else f"It is single batches ({names}), not all that the supplier delivers")  # fmt: skip
    if not parts:
        parts = ["No supplier is shown to be worse than the others"]
    said = "; ".join(parts) + "."
    return f"{said} Not compared: {listed(alone)}, beside whose modules none of another supplier stand." if alone else said


def suppliers_refused(because: Because) -> str:
    """Say why suppliers are not compared."""
    if because is Because.NOT_GIVEN:
        return "Suppliers are compared in a full answer, all batches with each other."
    return f"Suppliers cannot be compared: {reason_words(because)}."


def warnings(reading, rows: Sequence) -> list[str]:
    """Say what to mind. reading: an `answers.batch_reading.BatchReading`."""
    said = []
    numbers, hours = reading.numbers, reading.hours
    if reading.clock is Clock.DAYS and hours.is_refused:
        said.append(f"Shown in days: play hours are missing for {hours.without:,} of {hours.total:,} modules.")
    alike = [row for row in rows if row.same_code_as]
    if alike:
        pairs = sorted({tuple(sorted((row.batch, row.same_code_as))) for row in alike})
        some = "; ".join(" and ".join(pair) for pair in pairs[:_NAMED])
        said.append(f"Batch codes that differ only in capitals, blanks or signs count as different batches: {some}.")
    unknown = [row.batch for row in rows if not row.is_on_record and row.fitted]
    if unknown:
        said.append(f"{counted(len(unknown), 'batch', 'batches')} fitted without a delivery on record: {listed(unknown)}.")
    only = [row.batch for row in rows if row.because is Because.NO_DENOMINATOR and row.at_least is None]
    if only:
        said.append(
            f"Of {listed(only)} only modules that came in are named, so nobody knows of how many. Write the batch down when a "
            "module is fitted, or say how many of it are in stock."
        )
    mixed = [row.batch for row in rows if row.is_mixed]
    if mixed:
        said.append(f"Bins were mixed before use: {listed(mixed)}. Others are not held against them.")
    for column, words in (
        ("fitted_early_count", "fitted before the batch was received"),
        ("contradicted_count", "came in as another batch than was fitted; the batch of the fitting counts"),
        ("found_before_fitting_count", "came in as a batch that was fitted there only later"),
    ):
        if count := int(numbers[column].sum()):
            said.append(f"{counted(count, 'module')} {words}.")
    return said


def _not_compared(row) -> str:
    if row.at_least is not None and row.at_least.estimate is not None:
        return (
            f"only its failed modules are named; of all that can be in the field since it was received it fails at least "
            f"{_times(row.at_least.estimate)} times as often as others (not under {_times(row.at_least.low)})."
        )
    return f"{_reason(row.because)}."


def _reason(because: Because) -> str:
    if because is Because.NO_DENOMINATOR:
        return "only modules that came in are named, so nobody knows of how many"
    return reason_words(because)


def _takes(row, ratio: float) -> str:
    failures = max(round(row.more_failures), 1)
    if row.more_months is None:
        return (
            f"About {counted(failures, 'more failure', 'more failures')} would show one that fails {_times(ratio)} times as "
            f"often, but {_stands_still(row)}."
        )
    return (
        f"It takes about {counted(failures, 'more failure', 'more failures')} to see one that fails {_times(ratio)} times as "
        f"often{_months(row)}."
    )


def _stands_still(row) -> str:
    return "no other has failed at the age of those still watched" if row.watched else "none of it is watched any more"


def _months(row) -> str:
    if row.more_months > 60:
        return ", more than five years at its pace"
    months = max(round(row.more_months), 1)
    return f", about {counted(months, 'month')} at its pace"


def _times(ratio: float) -> str:
    if ratio < 0.095:
        return f"{ratio:.2f}"
    return f"{ratio:.1f}" if ratio < 10 else f"{ratio:,.0f}"
