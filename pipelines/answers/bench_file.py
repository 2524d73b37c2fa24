"""A file of sticks in, the same rows in the same order out, with the advice beside each; what cannot be judged says why."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipelines.answers import case as read
from pipelines.answers.bench_case import CODED, BenchCase, depth_of
from pipelines.answers.bench_record import BenchRecord, bench_record
from pipelines.answers.clean_or_replace import advise
from pipelines.answers.clean_or_replace_record import CleanOrReplace
from pipelines.answers.files import csv_bytes, workbook_bytes
from pipelines.answers.question import asked
from pipelines.answers.table import harmless
from pipelines.contract import columns_of
from pipelines.errors import InputError, SettingError
from pipelines.estimates.triage_columns import READINGS
from pipelines.facts.read import Connection, standing
from pipelines.facts.readings import cleans_so_far
from pipelines.logs import mapping
from pipelines.logs.evidence import Evidence
from pipelines.logs.mapping import FileMapping
from pipelines.logs.reading import ColumnReader, own_words_of, reader_for
from pipelines.logs.refusal import Refusal
from pipelines.logs.spelling import fold
from pipelines.logs.whole import Whole, read_whole
from pipelines.settings import Settings
from pipelines.vocabulary import Finding, Question, ReadingBasis
from pipelines.wording.bench import batch_note, course_words

#: The columns that a stick is judged by, as the job log has them; and what else a file may say of it.
_USED = ("unit_id", "stick", "family", "finding", "sensor_type", "failure_mode", "failure_mechanism", "reading_basis", *READINGS)
_MORE = ("attempt_number", "failed_tries", "depth")
#: A dead zone hides what a stick reads at rest.
_AT_REST = ("af_rest_offset_pct", "af_jitter_pct", "af_return_spread_pct")
ADVICE_COLUMNS = (
    "advice", "advice_note", "advice_depth", "pass_chance", "pass_chance_low", "pass_chance_high", "hold_chance", "hold_days",
    "cost_clean_first", "cost_new_part", "cost_scrap", "sure_share", "clean_until", "after_cleans",
)  # fmt: skip


@dataclass(frozen=True)
class AdvisedFile:
    """table: the rows of the file and the advice columns; its headings are the first line of the file, whatever that is.

    heading: which line has the headings (0: the first).
    counts: advice in words → how many rows ('no advice' among them); others: sheets of the workbook that were not read;
    not_understood: headings whose cells say nothing to the advice, as they are no words of the job log nor of `--case`.
    """

    table: pd.DataFrame
    heading: int
    counts: dict[str, int]
    others: list[str]
    not_understood: list[str]

    def csv(self) -> str:
        """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
        return self.table.map(harmless).rename(columns=harmless).to_csv(index=False)


def advise_units(
    connection: Connection, path: Path, settings: Settings, *, mapping_file: Path | None = None, level: float | None = None
) -> AdvisedFile:  # fmt: skip
    """Read the record under these settings and advise on a file; mapping_file: the user's words for columns and codes."""
    words = asked(Question.CLEAN_OR_REPLACE, by=(), where={}, clock=None, level=level, settings=settings)
    histories = standing(connection, settings)
    record = bench_record(histories, settings, level=words.level)
    own = mapping.read(mapping_file).for_file(path.name)
    return advise_file(histories, record, path, settings, own=own)


def written(advised: AdvisedFile, out: Path, *, besides: Path) -> None:
    """Write to a .csv or .xlsx file, never over the file `besides` that was read. Raises SettingError."""
    if out.suffix.lower() not in (".csv", ".xlsx"):
        raise SettingError(f"'{out.name}' is neither a .csv nor an .xlsx file.", "Name one that ends so.")
    if out.exists() and out.samefile(besides):
        raise SettingError(f"{out.name} is the file that was read.", "Name another; the one that was read stays as it is.")
    try:
        out.write_bytes(file_bytes(advised, out.suffix.lower()))
    except OSError as error:
        raise SettingError(f"{out} cannot be written ({error.strerror}).", "Name a file in a folder that is there.") from error


def file_bytes(advised: AdvisedFile, suffix: str) -> bytes:
    """Return the table as a file: .csv or .xlsx."""
    return workbook_bytes({"sticks": advised.table}) if suffix == ".xlsx" else csv_bytes(advised.table)


def advise_file(
    connection: Connection, record: BenchRecord, path: Path, settings: Settings, *, own: FileMapping | None = None
) -> AdvisedFile:  # fmt: skip
    """Advise on every row of a file (CSV, workbook, Parquet) that says something of a stick, under the headings of the job log.

    own: the user's words for its headings and codes. How often a stick was cleaned is looked up by unit_id and stick, unless
    the file says attempt_number. Raises InputError for a file that cannot be read.
    """
    with tempfile.TemporaryDirectory(prefix="stickfleet-", ignore_cleanup_errors=True) as scratch:
        whole = read_whole(path, Path(scratch), own or FileMapping(), table="jobs")
        told = _told(whole, record)
        not_understood = _not_understood(whole)
    units = sorted({one["unit_id"] for one in told.values() if isinstance(one.get("unit_id"), str)})
    so_far = {(one.unit_id, one.stick): one for one in cleans_so_far(connection, units).itertuples(index=False)}
    cases, reasons = {}, {}
    for place, row in told.items():
        try:
            cases[place] = _case(row, so_far.get((row.get("unit_id"), row.get("stick"))), record)
        except SettingError as error:
            reasons[place] = f"{error.what} {error.remedy}"
    answers = dict(zip(cases, advise(record, list(cases.values()), settings), strict=True))
    advice = {place: _advice(answer, record) for place, answer in answers.items()}
    advice |= {place: {"advice_note": reason} for place, reason in reasons.items()}
    counts = Counter(course_words(one.course) if one.course else "no advice" for one in answers.values())
    counts["no advice"] += len(reasons)
    return AdvisedFile(
        _table(whole, advice), whole.heading, {name: count for name, count in counts.items() if count}, whole.others,
        not_understood,
    )  # fmt: skip


def _told(whole: Whole, record: BenchRecord) -> dict[int, dict[str, object]]:
    """Return place → column → value or Refusal of each row below the headings that is not blank."""
    places = _places(whole)
    if not {"family", "unit_id", *READINGS} & set(places):
        raise InputError(
            f"{whole.sheet.shown} says nothing of sticks: it has neither family nor unit nor a reading.",
            "Give it the headings of the job log.",
        )
    readers = _readers(whole, record, places)
    more = _more_places(whole)
    found = {}
    for place in range(whole.heading + 1, len(whole.rows)):
        row = whole.rows[place]
        if any(cell.strip() for cell in row):
            found[place] = {name: readers[name].of(_cell(row, at)) for name, at in places.items()}
            found[place] |= {name: _cell(row, at).strip() for name, at in more.items()}
    return found


def _places(whole: Whole) -> dict[str, int]:
    """Return column → place of what a stick is judged by; names of `--case` are headings where the log's own are not there."""
    places = {name: place for place, name in whole.sheet.recognised.columns.items() if name in _USED}
    for place, cell in enumerate(whole.rows[whole.heading]):
        name = next((column for word, column in CODED.items() if fold(cell) == fold(word)), None)
        if name and name not in places and place not in whole.sheet.recognised.columns:
            places[name] = place
    return places


def _more_places(whole: Whole) -> dict[str, int]:
    return {name: place for place, cell in enumerate(whole.rows[whole.heading]) for name in _MORE if fold(cell) == fold(name)}


def _not_understood(whole: Whole) -> list[str]:
    read_here = {*whole.sheet.recognised.columns, *_places(whole).values(), *_more_places(whole).values()}
    headings = enumerate(whole.rows[whole.heading])
    return [cell.strip()[:80] for place, cell in headings if cell and cell.strip() and place not in read_here]


def _readers(whole: Whole, record: BenchRecord, names) -> dict[str, ColumnReader]:
    evidence, own = Evidence(whole.sheet), whole.sheet.mapping
    return {
        column.name: ColumnReader(column, reader_for(
            column, evidence, own_words=own_words_of(column, own.codes), scale=own.scale.get(column.name, 1.0),
            aliases=record.aliases.for_column("jobs", column.name), today=dt.date.max,
        ))
        for column in columns_of("jobs") if column.name in names
    }  # fmt: skip


def _case(row: dict[str, object], known, record: BenchRecord) -> BenchCase:
    """Return the stick of a row; known: what the log says of it, or None. Raises SettingError where it cannot be judged."""
    for value in row.values():
        if isinstance(value, Refusal):
            raise SettingError(f"{value.reason}.", value.remedy)
    if row.get("finding") == Finding.NO_FAULT_FOUND:
        raise SettingError("No fault was found on it.", "There is nothing to clean.")
    family = row.get("family") or (known.family if known else None)
    words = {"mode": row.get("failure_mode"), "mechanism": row.get("failure_mechanism"),
             "sensor_type": row.get("sensor_type") or (known.sensor_type if known else None)}  # fmt: skip
    words = {name: None if value == "unknown" or pd.isna(value) else value for name, value in words.items()}
    is_hidden = row.get("reading_basis") == ReadingBasis.DEAD_ZONE_APPLIED
    readings = {name: row[name] for name in READINGS if row.get(name) is not None and not (is_hidden and name in _AT_REST)}
    if not family and not readings and not any(words.values()):
        raise SettingError("Nothing is said of this stick.", "Give its family, what was found, or a reading.")
    number, failed = row.get("attempt_number") or "", row.get("failed_tries") or ""
    first = read.count("attempt_number", number, low=1) if number else (known.clean_count if known else 0) + 1
    tries = read.count("failed_tries", failed) if failed else known.failed_tries if known and not number else 0
    return BenchCase(
        read.known_name("family", family, record.families) if family else None,
        **{name: words[name] for name in CODED}, depth=depth_of(row["depth"]) if row.get("depth") else None,
        attempt_number=first, failed_tries=min(tries, first - 1), readings=readings,
        assumed=() if number or known else ("attempt_number",),
    )  # fmt: skip


def _advice(answer: CleanOrReplace, record: BenchRecord) -> dict[str, object]:
    passes, is_told = answer.pass_chance, answer.pass_chance.estimate is not None
    told = {
        "advice": answer.course, "advice_depth": answer.depth if is_told else None, "pass_chance": passes.estimate,
        "pass_chance_low": passes.low, "pass_chance_high": passes.high,
        "hold_chance": answer.hold_chance.estimate if is_told else None, "hold_days": record.warranty_days if is_told else None,
        **{f"cost_{course}": cost for course, cost in answer.expected_cost.items()}, "sure_share": answer.sure_share,
        "clean_until": answer.clean_until, "after_cleans": answer.after_cleans if answer.clean_until else None,
        "advice_note": batch_note(
            answer.because, is_close=answer.is_close, is_rule_of_thumb=answer.is_rule_of_thumb, unlike=answer.unlike,
            missing=[one.name for one in answer.asked_for], assumed=answer.case.assumed,
        ),
    }  # fmt: skip
    return {name: round(value, 4) if isinstance(value, float) else value for name, value in told.items() if value is not None}


def _table(whole: Whole, advice: dict[int, dict[str, object]]) -> pd.DataFrame:
    """Return every line of the file, widened by the advice; numbers under headings of numbers stay numbers."""
    width = max(map(len, whole.rows))
    kinds = {column.name: column.type for column in columns_of("jobs")}
    numeric = {at for at, name in whole.sheet.recognised.columns.items() if kinds[name] in ("number", "integer", "money")}
    lines = []
    for place, row in enumerate(whole.rows):
        cells = [_cell(row, at) for at in range(width)]
        if place > whole.heading:
            cells = [_plain_number(cell) if at in numeric else cell for at, cell in enumerate(cells)]
        told = dict(zip(ADVICE_COLUMNS, ADVICE_COLUMNS, strict=True)) if place == whole.heading else advice.get(place, {})
        lines.append([*cells, *(_word(told.get(name, "")) for name in ADVICE_COLUMNS)])
    return pd.DataFrame(lines[1:], columns=pd.Index(lines[0], dtype=object), dtype=object)


def _cell(row: list[str], place: int) -> str:
    return (row[place] or "") if place < len(row) else ""


def _word(value: object) -> object:
    return str(value) if isinstance(value, str) else value


def _plain_number(text: str) -> object:
    """Return the number that is written with a point and nothing else, so that a spreadsheet counts with it; else the text."""
    try:
        value = float(text)
    except ValueError:
        return text
    is_plain = text.strip("-").replace(".", "", 1).isdigit() and len(text) < 16
    return (int(text) if text.lstrip("-").isdigit() else value) if is_plain else text
