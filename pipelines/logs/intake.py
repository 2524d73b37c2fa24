"""One sheet from its cells to the warehouse, every line accounted for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import duckdb
import pyarrow as pa

from pipelines.contract import Column, columns_of
from pipelines.logs.aliases import Aliases
from pipelines.logs.evidence import Evidence
from pipelines.logs.keeping import Keeper, Settled
from pipelines.logs.numbers import currencies_in
from pipelines.logs.reading import ColumnReader, own_words_of, reader_for
from pipelines.logs.report import MOST_PROBLEMS, Problem, SheetReport
from pipelines.logs.rows import CheckedRows, Finding, RowChecker, is_total
from pipelines.logs.sheet import Leftovers, Misfit, Sheet
from pipelines.logs.spelling import fold
from pipelines.logs.tables import insert
from pipelines.logs.words import known_words, list_name


@dataclass(frozen=True)
class Where:
    """The numbers under which a sheet's rows are kept."""

    load_id: int
    file_id: int


@dataclass
class _Counts:
    set_aside: int = 0
    blank: int = 0
    not_data: int = 0
    cells_blanked: int = 0
    problems: dict[tuple[bool, str], Problem] = field(default_factory=dict)
    listed: list[pa.Table] = field(default_factory=list)


def take_in(
    connection: duckdb.DuckDBPyConnection,
    sheet: Sheet,
    *,
    where: Where,
    aliases: Aliases,
    today: dt.date,
    progress: Callable[[int], None],
) -> SheetReport:
    """Read, check and store one sheet; return what became of its lines. progress is told the line reached.

    Raises InputError for dates that nothing tells apart.
    """
    evidence = Evidence(sheet)
    readers = _readers(sheet, evidence, aliases, today)
    checker = RowChecker(sheet.recognised, readers, sheet.mapping.fixed, units_line=sheet.not_data + 1)
    keeper = Keeper(connection, sheet.recognised.table, load_id=where.load_id, file_id=where.file_id)
    left, counts = Leftovers([]), _Counts(not_data=sheet.not_data)

    def checked_rows() -> Iterator[CheckedRows]:
        for batch in sheet.batches(left):
            checked = checker.check(batch)
            _count(sheet, where, counts, checked)
            yield checked
            progress(int(batch.lines[-1]) if len(batch.lines) else 0)

    keeper.take(checked_rows())
    _count_misfits(sheet, where, counts, left)
    settled = keeper.settle()
    counts.set_aside += len(settled.findings)
    _list(sheet, where, counts, settled.findings)
    for findings in counts.listed:
        insert(connection, "set_aside", findings)
    _list_columns(connection, sheet, where, readers)
    return _report(sheet, evidence, counts, settled)


def _readers(sheet: Sheet, evidence: Evidence, aliases: Aliases, today: dt.date) -> dict[str, ColumnReader]:
    table = sheet.recognised.table
    wanted = {*sheet.recognised.columns.values(), *sheet.mapping.fixed}
    return {
        column.name: ColumnReader(column, reader_for(
            column, evidence, own_words=_alias_codes(column, aliases) | own_words_of(column, sheet.mapping.codes),
            aliases=aliases.for_column(table, column.name), scale=sheet.mapping.scale.get(column.name, 1.0), today=today,
        ))
        for column in columns_of(table) if column.name in wanted
    }  # fmt: skip


def _alias_codes(column: Column, aliases: Aliases) -> dict[str, str]:
    """Return the aliases of a coded column whose own word is a code, or steps of codes."""
    if column.table != "jobs" or column.type != "code":
        return {}
    known = known_words(list_name(column))
    said = {raw: [known.get(fold(step)) for step in clean.split("+")] for raw, clean in aliases.for_codes(column.name).items()}
    return {raw: "+".join(steps) for raw, steps in said.items() if all(steps)}


def _count(sheet: Sheet, where: Where, counts: _Counts, checked: CheckedRows) -> None:
    counts.set_aside += checked.set_aside
    counts.blank += checked.blank
    counts.not_data += checked.not_data
    counts.cells_blanked += sum(not one.is_row for one in checked.findings)
    _list(sheet, where, counts, checked.findings)


def _count_misfits(sheet: Sheet, where: Where, counts: _Counts, left: Leftovers) -> None:
    counts.not_data += left.further_lines
    aside = []
    for one in left.misfits:
        if one.text and not one.text.strip(' ,;|"\t\r\n\x1a'):
            counts.blank += 1
        elif is_total(one.text):
            counts.not_data += 1
        else:
            aside.append(_as_finding(one))
    counts.set_aside += len(aside)
    _list(sheet, where, counts, aside)


def _as_finding(one: Misfit) -> Finding:
    return Finding(one.line, "", one.text, one.refusal, is_row=True)


def _list(sheet: Sheet, where: Where, counts: _Counts, findings: list[Finding]) -> None:
    """Keep findings for set_aside, and count the same problem once for the report."""
    if not findings:
        return
    for one in findings:
        known = counts.problems.get(key := (one.is_row, one.refusal.reason))
        counts.problems[key] = Problem(known.first if known else one, known.count + 1 if known else 1)
    count = len(findings)
    counts.listed.append(pa.table({
        "load_id": pa.array([where.load_id] * count, pa.int32()), "file_id": pa.array([where.file_id] * count, pa.int32()),
        "file": [sheet.shown] * count, "sheet": [sheet.name] * count, "line": [one.line for one in findings],
        "column_name": [one.column for one in findings], "value": [one.value for one in findings],
        "reason": [one.refusal.reason for one in findings], "remedy": [one.refusal.remedy for one in findings],
        "is_row": [one.is_row for one in findings],
    }))  # fmt: skip


def _list_columns(connection, sheet: Sheet, where: Where, readers: dict[str, ColumnReader]) -> None:
    pairs = list(sheet.recognised.understood.items())
    money = {column.name for column in columns_of(sheet.recognised.table) if column.type == "money"}
    written = [
        readers[name].currencies | dict.fromkeys(currencies_in(heading), sheet.not_data) if name in money else {}
        for heading, name in pairs
    ]
    insert(connection, "loaded_column", pa.table({
        "file_id": pa.array([where.file_id] * len(pairs), pa.int32()), "header": [heading for heading, _ in pairs],
        "table_name": [sheet.recognised.table] * len(pairs), "column_name": [name for _, name in pairs],
        "currency": ["|".join(sorted(lines)) for lines in written],
        "currency_line": ["|".join(str(lines[word]) for word in sorted(lines)) for lines in written],
    }))  # fmt: skip


def _report(sheet: Sheet, evidence: Evidence, counts: _Counts, settled: Settled) -> SheetReport:
    have = {*sheet.recognised.columns.values(), *sheet.mapping.fixed}
    return SheetReport(
        sheet.shown, sheet.name, sheet.recognised.table, sheet.dialect.encoding, sheet.dialect.delimiter,
        evidence.decimal, evidence.word(),
        lines_read=sheet.lines_read, loaded=settled.loaded, set_aside=counts.set_aside, repeated=settled.repeated,
        replaced=settled.replaced, blank=counts.blank, not_data=counts.not_data, cells_blanked=counts.cells_blanked,
        columns=tuple(sheet.recognised.understood.items()), not_understood=sheet.recognised.not_understood,
        missing_wanted=tuple(
            column.name for column in columns_of(sheet.recognised.table)
            if column.need.startswith("S") and column.name not in have
        ),
        problems=tuple(sorted(counts.problems.values(), key=_weight)[:MOST_PROBLEMS]),
        problem_kinds=len(counts.problems),
    )  # fmt: skip


def _weight(problem: Problem) -> tuple[bool, int, int]:
    return not problem.first.is_row, -problem.count, problem.first.line
