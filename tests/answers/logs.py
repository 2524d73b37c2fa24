"""Small logs as text tables, loaded and asked."""

from __future__ import annotations

import re
from pathlib import Path

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.record import Answer
from pipelines.answers.text import answer_text
from pipelines.load import load
from pipelines.settings import Settings

#: Nothing is cut and faults are dated at their visits, so that the tables below can be counted by eye.
EXACT = Settings(notice_days=0, quiet_lag_days=0)


class Log:
    """One folder of exports and one warehouse."""

    def __init__(self, folder: Path, **tables: str) -> None:
        """Write and load one CSV per table; cells are split at blanks, `-` is a blank cell."""
        exports = folder / "exports"
        exports.mkdir(parents=True)
        for name, text in tables.items():
            rows = [["" if cell == "-" else cell for cell in line.split()] for line in text.strip().splitlines()]
            (exports / f"{name}.csv").write_text("".join(",".join(row) + "\n" for row in rows), encoding="utf-8")
        self.path = folder / "warehouse"
        report = load([exports], warehouse=self.path, settings=EXACT)
        assert report.total("set_aside") == 0

    def ask(self, question: str, *, settings: Settings = EXACT, **words: object) -> Answer:
        with warehouse.reading(self.path) as connection:
            answer = ask(question, connection, settings=settings, **words)
        assert_says_no_computer_word(answer)
        return answer


def assert_says_no_computer_word(answer: Answer) -> None:
    """What a person reads holds no nan, None or inf."""
    said = [answer_text(answer), answer.sentence, *answer.warnings, *(group.sentence for group in answer.groups)]
    assert not re.search(r"\b(nan|None|inf|NaN|NaT|null)\b", "\n".join(said)), said


def months(first: int, last: int) -> list[str]:
    """Return the first of each month of 2025, from one month to another."""
    return [f"2025-{month:02d}-01" for month in range(first, last + 1)]


def register(*units: str, in_service: str = "2025-01-01") -> str:
    """Return a units table: each word is `unit` or `unit:out_of_service_on`; all new, one stick, family Nolm."""
    head = "unit_id family sticks in_service_on new_or_used out_of_service_on out_reason"
    rows = []
    for word in units:
        unit, _, out = word.partition(":")
        rows.append(f"{unit} Nolm S {in_service} new {out or '-'} {'stored' if out else '-'}")
    return "\n".join([head, *rows])


def reports(*rows: str, columns: str = "") -> str:
    """Return a jobs table: each row is `unit received_on action outcome` and `columns`; faults reported and confirmed."""
    head = f"job_id unit_id received_on action outcome {columns} stick family visit_reason finding"
    return "\n".join([head, *(f"J{place} {row} S Nolm fault_report fault_confirmed" for place, row in enumerate(rows))])
