"""What to keep on the shelf as text for the terminal, and as one table."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.shelf_record import Shelf, ShelfRow
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, aligned
from pipelines.wording.outlook import count_words
from pipelines.wording.shelf import part_words
from pipelines.wording.verdict import level_words, log_words, reason_words, share_words


def shelf_text(answer: Shelf) -> str:
    """Return the whole answer as text."""
    blocks = [
        f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals · "
        f"{share_words(answer.fill_chance)} chance that it lasts"
    ]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if answer.rows:
        head = ["what", "days", "needed within them", "keep", "at hand", ""]
        blocks.append(aligned([head, *map(_row, answer.rows)]))
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    return "\n\n".join(blocks)


def note_words(row: ShelfRow) -> str:
    """Return why a row has no number, or that too few are at hand."""
    if row.because is not None:
        return reason_words(row.because)
    return "order now" if row.is_short else ""


def _row(row: ShelfRow) -> list[str]:
    days = "–" if row.days is None else f"{row.days:,.3g}"
    counts = ["–" if one is None else f"{one:,}" for one in (row.keep, row.at_hand)]
    return [part_words(row), days, count_words(row.demand), *counts, note_words(row)]


def shelf_table(answer: Shelf) -> pd.DataFrame:
    """Return one row per kind of spare."""
    return pd.DataFrame([
        {
            "kind": row.kind, "part": row.part, "site": row.site, "days": row.days, "demand": row.demand.estimate,
            "demand_low": row.demand.low, "demand_high": row.demand.high, "keep": row.keep, "keep_if_known": row.keep_if_known,
            "at_hand": row.at_hand, "unrecorded": row.unrecorded, "because": row.because,
        }
        for row in answer.rows
    ])  # fmt: skip


def shelf_csv(answer: Shelf) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(shelf_table(answer))
