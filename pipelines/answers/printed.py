"""Any answer as text or as CSV, whatever its record."""

from __future__ import annotations

from pipelines.answers.record import Answer
from pipelines.answers.table import csv_text
from pipelines.answers.text import answer_text


def text_of(answer) -> str:
    """Return an answer as text for the terminal."""
    if isinstance(answer, Answer):
        return answer_text(answer)
    from pipelines.answers.lot_text import bid_text

    return bid_text(answer)


def csv_of(answer) -> str:
    """Return an answer as one table in CSV."""
    if isinstance(answer, Answer):
        return csv_text(answer)
    from pipelines.answers.lot_text import bid_csv

    return bid_csv(answer)
