"""The page of an evidence pack: what was found, figures, counts, what was left out and why, method, settings, files."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator

import pandas as pd

from pipelines.answers.batch_containment_record import BatchContainment
from pipelines.answers.batch_containment_text import shown_claim
from pipelines.answers.batch_exhibit_record import BatchExhibit, Refused
from pipelines.answers.batch_exhibit_text import found
from pipelines.answers.batch_verdict_record import BatchRow
from pipelines.answers.page import page
from pipelines.charts.exhibit import alarm_svg, batches_svg, curves_svg
from pipelines.pack.commands import commands
from pipelines.settings import Settings
from pipelines.wording import batch_exhibit as wording
from pipelines.wording import batches as batch_words
from pipelines.wording.notes import note_html
from pipelines.wording.verdict import left_out_words, level_words

_NOTES = ("batch_exhibit", "batch_verdict", "batch_pattern", "batch_alarm", "batch_inspection", "batch_containment")


def exhibit_html(answer: BatchExhibit) -> bytes:
    """Return the page, which asks nobody for anything. Whatever comes from the log is shown as it is, never run."""
    row = next(one for one in answer.answers["verdict"].batches if one.batch == answer.case.batch)
    said, pictures, held = found(answer), _pictures(answer), answer.answers["containment"]
    return page(
        "exhibit_sheet.html", batch=answer.case.batch, delivered=wording.delivered_words(row),
        log=f"{answer.log_start} to {answer.log_end}", level=level_words(answer.level), sentence=answer.sentence,
        warnings=answer.warnings, asked_for=[],
        parts=[(title, said[name], pictures.get(name), wording.CAPTIONS.get(name)) for name, title in wording.TITLES.items()],
        counts=_counts(row), claim=shown_claim(held) if isinstance(held, BatchContainment) else [],
        cautions=[*wording.READ_WITH_CARE, *_own_warnings(answer)], left_out=_left_out(answer),
        settings=_settings(answer), notes=[note_html(name) for name in _NOTES], commands=commands(answer),
        software=", ".join(f"{name} {version}" for name, version in answer.software.items()), files=_files(answer),
    )  # fmt: skip


def _pictures(answer: BatchExhibit) -> dict[str, str]:
    told, batch = answer.answers, answer.case.batch
    drawn = {"verdict": batches_svg(told["verdict"], batch)}
    if not isinstance(told["pattern"], Refused):
        drawn["pattern"] = curves_svg(told["pattern"])
    if not isinstance(told["alarm"], Refused):
        drawn["alarm"] = alarm_svg(told["alarm"], batch)
    return {name: b64encode(one).decode() for name, one in drawn.items() if one is not None}


def _own_warnings(answer: BatchExhibit) -> Iterator[str]:
    """Give what each answer says to mind, once, under its title."""
    said: dict[str, str] = {}
    for name, told in answer.answers.items():
        for one in [] if isinstance(told, Refused) else told.warnings:
            said.setdefault(one, wording.TITLES[name])
    yield from (f"{title}: {one}" for one, title in said.items())


def _counts(row: BatchRow) -> pd.DataFrame:
    rows = [
        ("received", row.received), ("fitted", row.fitted), ("with a usable time", row.modules), ("controllers", row.controllers),
        ("failures among them", row.failures), ("still watched", row.watched), ("failures compared", row.observed),
        ("expected, were it like the others", None if row.expected is None else f"{row.expected:,.1f}"),
        ("times as often", f"{batch_words.ratio_words(row.ratio)} ({batch_words.span_words(row.ratio)})"),
        ("chance of as much by luck", wording.chance_words(row.p_value)),
        ("the same, over all batches", wording.chance_words(row.p_adjusted)),
    ]  # fmt: skip
    return pd.DataFrame([(name, "–" if value is None else str(value)) for name, value in rows], columns=["what", "amount"])


def _left_out(answer: BatchExhibit) -> pd.DataFrame:
    verdict, held = answer.answers["verdict"], answer.answers["containment"]
    rows = [(count, batch_words.left_out_words(kind), "batches compared") for kind, count in verdict.left_out.items()]
    if isinstance(held, BatchContainment):
        may = sum(one.hold not in ("fitted", "found") for one in held.modules)
        rows += [(may, "modules that may be of the batch", "all figures of it")]
        rows += [(held.unrecorded, "modules without a batch on record, fitted while it was in stock", "all figures of it")]
    rows += [(count, left_out_words(kind), "the whole log") for kind, count in answer.unusable.items()]
    rows += [(sum(one.set_aside for one in answer.files), "lines of the files that could not be read", "the whole log")]
    return pd.DataFrame([(f"{count:,}", *rest) for count, *rest in rows if count], columns=["how many", "what", "left out of"])


def _settings(answer: BatchExhibit) -> pd.DataFrame:
    fields = Settings.__dataclass_fields__
    rows = [
        (name, _blank(value), _blank(fields[name].default), fields[name].metadata["unit"], fields[name].metadata["help"])
        for name, value in answer.changed.items()
    ]
    return pd.DataFrame(rows, columns=["setting", "value", "default", "unit", "meaning"])


def _blank(value: object) -> str:
    return "blank" if value is None else str(value)


def _files(answer: BatchExhibit) -> pd.DataFrame:
    rows = [
        (one.load, one.file, one.tables, f"{one.lines_read:,}", f"{one.loaded:,}", f"{one.set_aside:,}", one.sha256)
        for one in answer.files
    ]
    return pd.DataFrame(rows, columns=["load", "file", "table", "lines", "loaded", "set aside", "SHA-256"])
