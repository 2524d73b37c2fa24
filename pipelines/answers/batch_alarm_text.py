"""The early alarm as text for the terminal, and as tables."""

from __future__ import annotations

from dataclasses import asdict
from textwrap import fill

import pandas as pd

from pipelines.answers.batch_alarm_record import AtAlarm, BatchAlarm, Replay, WatchedBatch
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, frame_text
from pipelines.wording.batch_alarm import against_words, evidence_words, level_words
from pipelines.wording.verdict import log_words

#: More rows than this are left to the CSV.
MOST_ROWS = 20


def batch_alarm_text(answer: BatchAlarm) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · tolerance {answer.tolerance:g}"]
    blocks += [fill(answer.sentence, WIDTH), *(fill(f"Note: {warning}", WIDTH) for warning in answer.warnings)]
    if answer.batches:
        blocks.append(frame_text(shown_table(answer), most=MOST_ROWS))
    if answer.replays:
        blocks.append(f"Batch {answer.shown} watched in other ways:\n{frame_text(shown_replays(answer))}")
    return "\n\n".join(blocks)


def shown_table(answer: BatchAlarm) -> pd.DataFrame:
    """Return one row per batch in words, the most urgent first."""
    return pd.DataFrame([_shown(one) for one in answer.batches])


def shown_replays(answer: BatchAlarm) -> pd.DataFrame:
    """Return one row per way in which the batch shown was watched, in words."""
    return pd.DataFrame([_replayed(one) for one in answer.replays])


def batches_table(answer: BatchAlarm) -> pd.DataFrame:
    """Return one row per batch: all numbers, for files."""
    return pd.DataFrame([
        {
            "batch": one.batch, "supplier": one.supplier, "part_type": one.part_type, "is_mixed": one.is_mixed,
            "level": one.level.value,
            "first_fitted_on": one.first_fitted_on, "fitted_count": one.fitted, "found_count": one.found,
            "failure_count": one.failures, "expected": one.expected, "evidence": one.evidence,
            "highest_evidence": one.highest_evidence, **_dated("watch", one.watch), **_dated("stop", one.stop),
            "is_beyond_all": one.is_beyond_all, "because": one.because,
        }
        for one in answer.batches
    ])  # fmt: skip


def batch_alarm_csv(answer: BatchAlarm) -> str:
    """Return the batches as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(batches_table(answer))


def batch_alarm_sheets(answer: BatchAlarm) -> dict[str, pd.DataFrame]:
    """Return the sheets of the workbook: batches, the looks and replays of the one shown, and how it was asked."""
    about = {
        "answer": answer.sentence, **{f"note {number}": warning for number, warning in enumerate(answer.warnings, 1)},
        "batch shown": answer.shown, "log": f"{answer.log_start} to {answer.log_end}", "watched to": answer.watched_to,
        "evidence to watch": answer.watch_limit, "evidence to stop": answer.stop_limit, "evidence for all": answer.limit_of_all,
        **{f"setting {name}": value for name, value in answer.settings.items() if value is not None},
    }  # fmt: skip
    return {
        "batches": batches_table(answer), "looks": pd.DataFrame([asdict(one) for one in answer.looks]),
        "other ways": pd.DataFrame([asdict(one) for one in answer.replays]),
        "asked": pd.DataFrame(list(about.items()), columns=["what", "value"]).astype(object),
    }  # fmt: skip


def _dated(name: str, at: AtAlarm | None) -> dict[str, object]:
    return {f"{name}_{key}": None if at is None else getattr(at, key) for key in AtAlarm.__dataclass_fields__}


def _shown(one: WatchedBatch) -> dict[str, object]:
    at = one.watch
    return {
        "batch": one.batch, "supplier": one.supplier or "–", "what to do": level_words(one.level),
        "alarm on": at.on if at else "–", "stop buying on": one.stop.on if one.stop else "–",
        "failures then": f"{at.failures:,}" if at else "–", "its share then": f"{at.expected:,.1f}" if at else "–",
        "failures": one.failures, "its share": f"{one.expected:,.1f}", "fitted": one.fitted,
        "evidence": evidence_words(one.evidence), "highest": evidence_words(one.highest_evidence),
    }  # fmt: skip


def _replayed(one: Replay) -> dict[str, object]:
    return {
        "held against": against_words(one.against), "tolerance": f"{one.tolerance:g}", "alarm on": one.watch_on or "–",
        "stop buying on": one.stop_on or "–", "failures": one.failures, "its share": f"{one.expected:,.1f}",
        "highest evidence": evidence_words(one.highest_evidence),
    }  # fmt: skip
