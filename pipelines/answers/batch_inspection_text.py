"""Incoming inspection as text for the terminal, and as tables."""

from __future__ import annotations

from dataclasses import asdict
from textwrap import fill

import pandas as pd

from pipelines.answers.batch_inspection_record import BatchInspection, Inspected
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, frame_text
from pipelines.wording.batch_inspection import chart_sentence, decision_words, fine_share_words, note_words, pct_words
from pipelines.wording.verdict import level_words, limits_words, log_words, share_words

#: More rows than this are left to the CSV; those with something to mind come first.
MOST_ROWS = 12


def inspection_text(answer: BatchInspection) -> str:
    """Return the whole answer as text."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if answer.charts:
        lines = [fill(chart_sentence(one), WIDTH, initial_indent="  ", subsequent_indent="    ") for one in answer.charts]
        blocks.append("\n".join(["Batch by batch:", *lines]))
    frame = shown_rows(answer)
    if len(frame):
        frame = frame[["batch", "inspected", "characteristic", "nonconforming", "share", "interval", "accepted up to", "note"]]
        blocks.append(frame_text(frame, most=MOST_ROWS))
    return "\n\n".join(blocks)


def shown_rows(answer: BatchInspection) -> pd.DataFrame:
    """Return one row per inspection in words: those with something to mind first, then the latest."""
    latest = sorted(answer.rows, key=lambda one: one.inspected_on, reverse=True)
    return pd.DataFrame([_row(one) for one in sorted(latest, key=lambda one: not note_words(one))])


def _row(one: Inspected) -> dict[str, str]:
    share, power = one.share, one.power
    twice = None if power is None else power.passes_at_twice
    return {
        "batch": one.batch, "note": note_words(one), "supplier": one.supplier or "–", "inspected": one.inspected_on,
        "characteristic": one.characteristic,
        "nonconforming": f"{one.bad:,} of {one.tested:,}",
        "share": "–" if share.estimate is None else fine_share_words(share.estimate),
        "interval": "–" if share.estimate is None else limits_words(share.low, share.high, fine_share_words),
        "accepted up to": "–" if one.acceptance_number is None else f"{one.acceptance_number:,}",
        "agreed": "–" if one.aql_pct is None else pct_words(one.aql_pct),
        "passes at twice that": "–" if twice is None else share_words(twice), "decision": decision_words(one.decision),
    }  # fmt: skip


def rows_table(answer: BatchInspection) -> pd.DataFrame:
    """Return one row per inspection: all numbers, for files."""
    rows = []
    for one in answer.rows:
        plain = asdict(one)
        share, power = plain.pop("share"), plain.pop("power") or {}
        rows.append({
            **plain, "share": share["estimate"], "share_low": share["low"], "share_high": share["high"],
            **{name: power.get(name) for name in ("producer_share", "consumer_share", "passes_at_aql", "passes_at_twice")},
        })  # fmt: skip
    return pd.DataFrame(rows or [{"because": answer.because}])


def inspection_csv(answer: BatchInspection) -> str:
    """Return the inspections as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(rows_table(answer))


def inspection_sheets(answer: BatchInspection) -> dict[str, pd.DataFrame]:
    """Return the sheets of the workbook but how it was asked: inspections, plans with their curves, charts, the field."""
    told = [one for one in (answer.used_plan, *answer.plans) if one is not None and one.because is None]
    plans = [
        {"origin": one.origin, "sample": one.sample, "acceptance_number": one.acceptance_number, "lot": one.lot, **asdict(point)}
        for one in told
        for point in one.curve
    ]
    charts = [
        {"supplier": one.supplier, "characteristic": one.characteristic, "middle": one.middle, **asdict(point)}
        for one in answer.charts
        for point in one.points
    ]
    batches = [{"characteristic": one.characteristic, **asdict(batch)} for one in answer.fields for batch in one.batches]
    sheets = {"inspections": rows_table(answer), "operating curves": pd.DataFrame(plans), "charts": pd.DataFrame(charts),
              "field": pd.DataFrame(batches)}  # fmt: skip
    return {name: frame for name, frame in sheets.items() if len(frame)}
