"""A batch verdict as text for the terminal, and as tables."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.batch_verdict_record import BatchRow, BatchVerdictAnswer
from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, aligned
from pipelines.estimates.estimate import Estimate
from pipelines.wording import batches as wording
from pipelines.wording.verdict import level_words, log_words

#: More batches than this are left to the CSV.
MOST_ROWS = 24


def batch_verdict_text(answer: BatchVerdictAnswer) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · clock: {answer.clock} · "
              f"{level_words(answer.level)} intervals"]  # fmt: skip
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    rows = [row for row in answer.batches if row.modules or row.found_only]
    if rows:
        head = ["batch", "verdict", "failures", "of", "expected", "times", "interval", f"one in ten by, {answer.clock}", "mind"]
        more = f"\n… and {len(rows) - MOST_ROWS:,} more (--format csv or json)" if len(rows) > MOST_ROWS else ""
        blocks.append(aligned([head, *(_row(row) for row in rows[:MOST_ROWS])]) + more)
    blocks.append(fill(answer.suppliers.sentence, WIDTH))
    blocks += [fill(row.sentence, WIDTH) for row in answer.suppliers.rows]
    left = [f"  {count:,} {wording.left_out_words(key)}" for key, count in answer.left_out.items() if count]
    if left:
        blocks.append("\n".join(["Left out:", *left]))
    return "\n\n".join(blocks)


def batches_table(answer: BatchVerdictAnswer) -> pd.DataFrame:
    """Return one row a batch, those that stand out first; times in the clock's unit."""
    return pd.DataFrame([_table_row(row) for row in answer.batches])


def suppliers_table(answer: BatchVerdictAnswer) -> pd.DataFrame:
    """Return one row a supplier, the one that fails most first."""
    return pd.DataFrame([
        {
            "supplier": row.supplier, "batch_count": row.batches, "worse_batches": " ".join(row.worse),
            "failure_count": row.failures, **named("ratio", row.ratio), **named("rest_ratio", row.rest),
            "verdict": row.verdict.value,
        }
        for row in answer.suppliers.rows
    ])  # fmt: skip


def left_out_table(answer: BatchVerdictAnswer) -> pd.DataFrame:
    """Return what was left out, with its meaning."""
    rows = [(key, count, wording.left_out_words(key)) for key, count in answer.left_out.items()]
    return pd.DataFrame(rows, columns=["kind", "count", "meaning"])


def batch_verdict_csv(answer: BatchVerdictAnswer) -> str:
    """Return the batches as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(batches_table(answer))


def _table_row(row: BatchRow) -> dict[str, object]:
    at_least = row.at_least or Estimate(None, None, None)
    return {
        "batch": row.batch, "supplier": row.supplier, "part_type": row.part_type, "received_on": row.received_on,
        "verdict": row.verdict, "because": row.because, "module_count": row.modules, "controller_count": row.controllers,
        "failure_count": row.failures, "watched_count": row.watched, "received_count": row.received, "fitted_count": row.fitted,
        "found_only_count": row.found_only, "compared_failures": row.observed, "expected_failures": row.expected,
        **named("ratio", row.ratio), "p_value": row.p_value, "p_adjusted": row.p_adjusted, "information": row.information,
        "more_failures": row.more_failures, "more_months": row.more_months, **named("b10", row.b10), "b10_from": row.b10_from,
        "at_least": at_least.estimate, "at_least_low": at_least.low, **named("shrunk_ratio", row.shrunk),
        "rank_low": row.rank_low, "rank_high": row.rank_high, "is_reference": row.is_reference, "is_mixed": row.is_mixed,
        "is_on_record": row.is_on_record, "same_code_as": row.same_code_as,
    }  # fmt: skip


def _row(row: BatchRow) -> list[str]:
    seen, told = row.failures, ["–"] * 3
    if row.verdict is not None:
        seen = row.observed
        told = [wording.expected_words(row.expected), wording.ratio_words(row.ratio), wording.span_words(row.ratio)]
    return [
        row.batch, wording.verdict_word(row.verdict), f"{seen:,}", f"{row.modules:,}", *told, wording.age_words(row.b10),
        wording.note(row),
    ]  # fmt: skip
