"""The record of the evidence on a batch: the JSON contract, word for word. Each answer stands in it as its question has it."""

from __future__ import annotations

from dataclasses import dataclass, fields

import pandas as pd

from pipelines.answers.asked_record import AskedRecord
from pipelines.answers.record import plain


@dataclass(frozen=True)
class ExhibitCase:
    """What was asked about: the batch, and whether the free text of its jobs shall be among the rows."""

    batch: str
    notes: bool


@dataclass(frozen=True)
class Refused:
    """A question that cannot be answered of this log: what was found, and what to do about it."""

    question: str
    what: str
    remedy: str

    def to_dict(self) -> dict[str, object]:
        """Return plain texts, ready for JSON."""
        return plain(self)


@dataclass(frozen=True)
class FileRead:
    """A file as one load read it: what became of its lines, and the mapping file it was read with (None: none).

    as_of: read on that day, the load refuses the same dates as lying ahead (None: it refused none).
    """

    load: int
    file: str
    sha256: str
    tables: str
    lines_read: int
    loaded: int
    set_aside: int
    repeated: int
    replaced: int
    not_data: int
    mapping: str | None
    as_of: str | None


@dataclass(frozen=True)
class BatchExhibit(AskedRecord):
    """The whole answer. answers: `verdict`, `alarm`, … → the answer of that question, or why there is none.

    changed: settings that differ from their default; software: name → version; mappings: digest → content; unusable: rows of the
    whole log that no answer can use, by kind; rows: of the job log, one per module of the batch and job.
    """

    level: float
    case: ExhibitCase
    changed: dict[str, object]
    software: dict[str, str]
    files: list[FileRead]
    mappings: dict[str, str]
    unusable: dict[str, int]
    answers: dict[str, AskedRecord | Refused]
    rows: pd.DataFrame

    def to_dict(self) -> dict[str, object]:
        """Return plain dicts, lists, texts and numbers, ready for JSON; of the rows only how many there are."""
        told = {one.name: plain(getattr(self, one.name)) for one in fields(self) if one.name not in ("answers", "rows")}
        return told | {"answers": {name: one.to_dict() for name, one in self.answers.items()}, "row_count": len(self.rows)}
