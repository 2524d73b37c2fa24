"""`answer batch-exhibit`: all that the log says of one supplier batch, with what it takes to work it out anew."""

from __future__ import annotations

import platform
from collections.abc import Callable
from dataclasses import replace
from importlib.metadata import version

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.batch_alarm import batch_alarm
from pipelines.answers.batch_containment import batch_containment
from pipelines.answers.batch_exhibit_record import BatchExhibit, ExhibitCase, FileRead, Refused
from pipelines.answers.batch_inspection import batch_inspection
from pipelines.answers.batch_pattern import batch_pattern
from pipelines.answers.batch_verdict import batch_verdict
from pipelines.answers.batch_verdict_record import BatchVerdictAnswer
from pipelines.answers.case import is_yes, one_batch
from pipelines.answers.question import Asked
from pipelines.errors import FleetError
from pipelines.facts.log_rows import batch_jobs, log_files, mapping_files
from pipelines.facts.read import Connection, left_out, steady
from pipelines.settings import Settings
from pipelines.vocabulary import Question
from pipelines.wording import batch_exhibit as wording

#: Whose versions may move a figure.
_SOFTWARE = ("stickfleet", "duckdb", "lifelines", "numpy", "scipy", "pandas")
#: What is asked of the batch besides the verdict: name in the pack → question and its answer.
_OTHERS: dict[str, tuple[Question, Callable[[Connection, Asked], AskedRecord]]] = {
    "alarm": (Question.BATCH_ALARM, batch_alarm),
    "pattern": (Question.BATCH_PATTERN, batch_pattern),
    "containment": (Question.BATCH_CONTAINMENT, batch_containment),
    "inspection": (Question.BATCH_INSPECTION, batch_inspection),
}


def batch_exhibit(connection: Connection, asked: Asked) -> BatchExhibit:
    """Answer about the batch of `--case`. connection: to the warehouse itself.

    Raises SettingError where no batch is named, or the log has no such batch, and WarehouseError as `log_files` does.
    """
    histories = steady(connection, asked.settings)
    files = log_files(histories)
    verdict = batch_verdict(histories, replace(asked, question=Question.BATCH_VERDICT, case={}))
    case = _case(asked, verdict)
    answers: dict[str, AskedRecord | Refused] = {"verdict": verdict}
    for name, (question, answer) in _OTHERS.items():
        try:
            answers[name] = answer(histories, replace(asked, question=question, case={"batch": case.batch}))
        except FleetError as error:  # the others stand without it
            answers[name] = Refused(question.value, error.what, error.remedy)
    row = next(one for one in verdict.batches if one.batch == case.batch)
    plain, default = asked.settings.as_plain(), Settings().as_plain()
    return BatchExhibit(
        question=asked.question.value, log_start=verdict.log_start, log_end=verdict.log_end, settings=plain, because=row.because,
        sentence=row.sentence, warnings=wording.warnings(answers, has_notes=case.notes), level=asked.level, case=case,
        changed={name: value for name, value in plain.items() if value != default[name]}, software=software(),
        files=[FileRead(*row) for row in files.itertuples(index=False, name=None)], mappings=mapping_files(histories),
        unusable=left_out(histories), answers=answers, rows=batch_jobs(histories, case.batch, has_free_text=case.notes),
    )  # fmt: skip


def software() -> dict[str, str]:
    """Return name → version of what works the figures out here."""
    return {"python": platform.python_version()} | {name: version(name) for name in _SOFTWARE}


def _case(asked: Asked, verdict: BatchVerdictAnswer) -> ExhibitCase:
    batch = one_batch(asked.case, [one.batch for one in verdict.batches])
    return ExhibitCase(batch, "notes" in asked.case and is_yes("notes", asked.case["notes"]))
