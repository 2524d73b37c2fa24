"""Exports → warehouse: one load is one transaction; every line is accounted for, and nothing is half loaded."""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from pipelines import warehouse as warehouses
from pipelines.errors import InputError
from pipelines.logs import aliases as user_aliases
from pipelines.logs import books, columnar, mapping, tables, text
from pipelines.logs import ledger as ledger_book
from pipelines.logs.finding import Export, Skipped, find
from pipelines.logs.intake import Where, take_in
from pipelines.logs.opening import open_export
from pipelines.logs.report import LoadReport, Refused, SheetReport
from pipelines.logs.sheet import Sheet
from pipelines.settings import Settings

if TYPE_CHECKING:
    import pandas as pd

Progress = Callable[[str, float | None], None]
Build = Callable[[duckdb.DuckDBPyConnection, Settings], None]


def load(
    paths: Sequence[Path],
    *,
    warehouse: Path,
    settings: Settings,
    mapping: Path | None = None,
    strict: bool = False,
    progress: Progress | None = None,
    today: dt.date | None = None,
    build: Build | None = None,
) -> LoadReport:
    """Load files and folders into the warehouse folder and rebuild the histories; return what became of each line.

    strict: refuse the whole load when any row would be set aside. progress is told a word and the share done (None:
    not known). today: dates after the day after it are refused. build rebuilds the histories (default: facts.build).
    Raises InputError, SettingError for the mapping file, WarehouseError; then nothing has changed.
    """
    told = _Told(progress or _silent, today or dt.date.today())
    with _gathered(paths, mapping, told, is_check=False) as gathered:
        report = LoadReport((), gathered.skipped)
        with warehouses.next_generation(warehouse) as connection:
            # a single thread does the same for two thirds of the work that two take
            connection.execute("SET threads = 1")
            report = _take_in_all(connection, gathered, told)
            if not report.is_new:
                raise warehouses.NothingNew
            if gathered.said.text:
                ledger_book.keep_mapping(connection, gathered.said.digest, gathered.said.text)
            if strict:
                _refuse_any_set_aside(connection, report)
            told.progress("Building the histories", None)
            # every load makes the histories anew: packing their numbers costs more than it saves
            connection.execute("SET disabled_compression_methods = 'alp,alprd,bitpacking,rle,roaring'")
            (build or _facts_build())(connection, settings)
            if build is None:
                report = replace(
                    report, hours_not_used=_hours_not_used(connection), spelt_alike=_spelt_alike(connection)
                )
    return report


def check(paths: Sequence[Path], *, mapping: Path | None = None, warehouse: Path | None = None) -> LoadReport:
    """Say what a load would do, and write nothing. With a warehouse, what is there already counts as such.

    Files that cannot be used are in `refused`. Raises SettingError for the mapping file, InputError for a path that
    is not there, WarehouseError.
    """
    told = _Told(_silent, dt.date.today())
    with (
        _gathered(paths, mapping, told, is_check=True) as gathered,
        _thrown_away(warehouse) as connection,
    ):
        return _take_in_all(connection, gathered, told)


def ledger(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return the ledger of a warehouse: one row a file and sheet and load, as its table's comments say."""
    return connection.execute("SELECT * FROM ledger ORDER BY load_id, file_id").df()


def set_aside(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return every line set aside and every cell left blank, as the comments of the table set_aside say.

    Play hours that do not fit the other readings of their unit come last: their jobs are kept, the hours are not used.
    """
    import pandas as pd

    from pipelines.facts.read import doubtful_hours

    told = connection.execute("SELECT * FROM set_aside ORDER BY load_id, file_id, line").df()
    return pd.concat([told, doubtful_hours(connection)], ignore_index=True)


@dataclass
class _Told:
    progress: Progress
    today: dt.date


@dataclass
class _Source:
    """A file whose sheets are known."""

    export: Export
    sha256: str
    sheets: list[Sheet]


@dataclass
class _Gathered:
    sources: list[_Source]
    skipped: tuple[Skipped, ...]
    refused: tuple[Refused, ...]
    said: mapping.Mapping
    is_check: bool


def _silent(word: str, share: float | None) -> None:
    """Tell nobody."""


def _hours_not_used(connection: duckdb.DuckDBPyConnection) -> int:
    from pipelines.facts.read import left_out

    counts = left_out(connection)
    return counts["hours_fell"] + counts["hours_exceed_calendar"]


def _spelt_alike(connection: duckdb.DuckDBPyConnection) -> tuple[tuple[str, int, str, str], ...]:
    from pipelines.facts.read import spelt_alike

    return tuple(spelt_alike(connection))


def _facts_build() -> Build:
    from pipelines.facts.build import build  # imported late: a check does not need it

    return build


@contextmanager
def _gathered(paths: Sequence[Path], mapping_file: Path | None, told: _Told, *, is_check: bool):
    """Open every file and tell its table before anything is loaded; aliases come first, so that their words count."""
    said = mapping.read(mapping_file)
    exports, skipped = find(paths)
    sources, refused = [], []
    with tempfile.TemporaryDirectory(prefix="stickfleet-", ignore_cleanup_errors=True) as folder:
        for export in exports:
            told.progress(f"Looking at {export.shown}", None)
            own = said.for_file(export.shown)
            if own.skip:
                skipped.append(Skipped(export.shown, "the mapping file says so"))
                continue
            try:
                source, passed_over = _source(export, own, Path(folder))
            except InputError as error:
                refused.append(Refused(export.shown, error.what, error.remedy))
                continue
            sources.append(source)
            skipped.extend(passed_over)
        if refused and not is_check:
            raise _refusal(refused)
        sources.sort(key=lambda source: all(sheet.recognised.table != "aliases" for sheet in source.sheets))
        yield _Gathered(sources, tuple(skipped), tuple(refused), said, is_check)


def _refusal(refused: list[Refused]) -> InputError:
    first, *others = refused
    more = f" {len(others)} more of the files cannot be used either; stickfleet check lists them all." if others else ""
    return InputError(first.what, first.remedy + more)


def _source(export: Export, own: mapping.FileMapping, scratch: Path) -> tuple[_Source, list[Skipped]]:
    opened = open_export(export, scratch)
    if opened.kind == "book":
        sheets, skipped = books.sheets_of(opened, own)
        return _Source(export, opened.sha256, sheets), skipped
    sheet = columnar.sheet_of(opened, own) if opened.kind == "parquet" else text.sheet_of(opened, scratch, own)
    return _Source(export, opened.sha256, [sheet]), []


def _take_in_all(connection: duckdb.DuckDBPyConnection, gathered: _Gathered, told: _Told) -> LoadReport:
    tables.create(connection)
    load = ledger_book.begin(connection)
    reports: list[SheetReport] = []
    refused = list(gathered.refused)
    line_count = sum(sheet.lines_read for source in gathered.sources for sheet in source.sheets) or 1
    line = 0
    for source in gathered.sources:
        known = user_aliases.stored(connection)
        has_jobs = any(sheet.recognised.table == "jobs" for sheet in source.sheets)
        read_with = f"{gathered.said.digest}{known.digest() if has_jobs else ''}"
        if ledger_book.is_known(connection, source.sha256, read_with):
            reports += [_unchanged(sheet) for sheet in source.sheets]
            line += sum(sheet.lines_read for sheet in source.sheets)
            continue
        ledger_book.forget_findings(connection, source.sha256)
        for sheet in source.sheets:
            where = Where(load.load_id, load.next_file_id())

            def reached(at_line: int, *, shown: str = sheet.shown, before: int = line) -> None:
                told.progress(f"Reading {shown}", min((before + at_line) / line_count, 1.0))

            try:
                report = take_in(connection, sheet, where=where, aliases=known, today=told.today, progress=reached)
            except InputError as error:
                if not gathered.is_check:
                    raise
                refused.append(Refused(sheet.shown, error.what, error.remedy))
                continue
            ledger_book.enter(connection, report, load, where.file_id, sha256=source.sha256, read_with=read_with)
            reports.append(report)
            line += sheet.lines_read
            if report.table == "aliases":
                user_aliases.apply_again(connection, user_aliases.stored(connection))
    return LoadReport(tuple(reports), gathered.skipped, tuple(refused), is_check=gathered.is_check)


def _unchanged(sheet: Sheet) -> SheetReport:
    return SheetReport(
        sheet.shown, sheet.name, sheet.recognised.table, sheet.dialect.encoding, sheet.dialect.delimiter,
        lines_read=sheet.lines_read, repeated=sheet.lines_read - sheet.not_data, not_data=sheet.not_data,
        columns=tuple(sheet.recognised.understood.items()), not_understood=sheet.recognised.not_understood, is_new=False,
    )  # fmt: skip


def _refuse_any_set_aside(connection: duckdb.DuckDBPyConnection, report: LoadReport) -> None:
    count = report.total("set_aside")
    if not count:
        return
    file, sheet, line, column, value, reason, remedy = ledger_book.first_set_aside(connection)
    place = f"{file}{f' [{sheet}]' if sheet else ''}, line {line}{f', column {column}' if column else ''}"
    more = f" {count - 1:,} more lines would be set aside; stickfleet check lists them." if count > 1 else ""
    raise InputError(f"{place}: {reason}{f' (it says {value!r})' if value and value not in reason else ''}.", remedy + more)


@contextmanager
def _thrown_away(warehouse: Path | None):
    """Give a connection to a copy of the warehouse, or to an empty one, and throw it away."""
    with tempfile.TemporaryDirectory(prefix="stickfleet-", ignore_cleanup_errors=True) as folder:
        copy = Path(folder) / "check.duckdb"
        if warehouse and warehouses.exists(warehouse):
            warehouses.open_for_reading(warehouse).close()
            shutil.copyfile(warehouse / warehouses.stamp(warehouse), copy)
        connection = duckdb.connect(str(copy), config={"memory_limit": "1500MB"})
        try:
            connection.execute("BEGIN")
            yield connection
        finally:
            connection.close()
