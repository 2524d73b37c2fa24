"""Studies of the tester as small logs."""

from __future__ import annotations

import re

from pipelines import warehouse
from pipelines.answers import ask as ask_any
from pipelines.answers.tester_study_record import TesterStudy
from pipelines.answers.tester_study_text import study_text
from pipelines.settings import Settings
from tests.answers.logs import EXACT, Log, register, reports
from tests.published.cases import load_case, rows_of

HEAD = "unit_id stick technician measure trial value"
LIMITS = "limit_set measure pass_max pass_min valid_from\nhouse rest_offset 2 - 2024-01-01\nhouse reach - 94 2024-01-01"


def log(folder, rows: list[str], **tables: str) -> Log:
    study = {"repeat_readings": "\n".join([HEAD, *rows])} if rows else {}
    return Log(folder, units=register("U1"), jobs=reports("U1 2025-03-03 clean_open pass"), **study, **tables)


def made(rng, *, sticks=8, persons=3, trials=2, measure="rest_offset", middle=5.0, spread=2.0, error=0.3) -> list[str]:
    true = middle + spread * rng.standard_normal(sticks)
    return [
        f"S{stick} L P{person} {measure} {trial} {true[stick] + error * rng.standard_normal():.3f}"
        for stick in range(sticks) for person in range(persons) for trial in range(1, trials + 1)
    ]  # fmt: skip


def ask(log: Log, settings: Settings = EXACT, **case: str) -> TesterStudy:
    """Ask, and see that nothing that is said holds a word of computers."""
    with warehouse.reading(log.path) as connection:
        answer = ask_any("tester-study", connection, settings=settings, case=case)
    said = "\n".join([study_text(answer), answer.sentence, *answer.warnings])
    assert not re.search(r"\b(nan|None|inf|NaN|null)\b", said), said
    return answer


def manual_log(folder) -> Log:
    """Return the manual's example as a log; its readings lie around 0, which the contract does not forbid."""
    rows = [f"S{row.part} L {row.op} rest_offset {row.trial} {row.y}" for row in rows_of(load_case("grr_aiag")).itertuples()]
    return log(folder, rows, limits=LIMITS)
