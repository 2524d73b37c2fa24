"""What a load did, what a check found, and what the ledger holds, in the words of the bench."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from pipelines.logs.report import LoadReport, Problem, SheetReport

if TYPE_CHECKING:
    import pandas as pd

_MOST_HEADINGS = 40


def report_text(report: LoadReport, *, is_full: bool = False) -> str:
    """Return a load or a check as text; a check, or is_full, names columns and more examples of every file."""
    return "\n".join(_sentences(report, is_full=is_full or report.is_check))


def ledger_text(ledger: pd.DataFrame) -> str:
    """Return the ledger as text, one line a file and sheet and load. ledger: as from pipelines.load.ledger."""
    if ledger.empty:
        return "Nothing has been loaded yet."
    return "\n".join(
        f"load {row.load_id}, {row.loaded_at:%Y-%m-%d %H:%M}, {row.file}{f' [{row.sheet}]' if row.sheet else ''}: "
        f"{row.lines_read:,} lines = {row.loaded:,} loaded + {row.set_aside:,} set aside + {row.repeated:,} there already "
        f"+ {row.blank:,} blank + {row.not_data:,} headings, titles and totals → {row.table_name}; "
        f"{row.replaced:,} replaced earlier versions, {row.cells_blanked:,} cells left blank"
        for row in ledger.itertuples()
    )


def set_aside_text(set_aside: pd.DataFrame) -> str:
    """Return every line and cell set aside as text. set_aside: as from pipelines.load.set_aside."""
    if set_aside.empty:
        return "No line was set aside."
    said = (
        f"{row.file}{f' [{row.sheet}]' if row.sheet else ''}, line {row.line}: {_reason(row)} "
        f"({'set aside' if row.is_row else 'cell left blank'}). {row.remedy}"
        for row in set_aside.itertuples()
    )
    return "\n".join(dict.fromkeys(said))  # a line about both sticks may stand there twice


def _reason(row) -> str:
    """Name the column and its value where the reason itself does not."""
    is_said = not row.column_name or not row.value or str(row.value) in row.reason
    return row.reason if is_said else f"{row.column_name} {row.value}: {row.reason}"


def _sentences(report: LoadReport, *, is_full: bool) -> Iterator[str]:
    for one in report.refused:
        yield f"CANNOT BE USED: {one.what} {one.remedy}"
    for sheet in report.sheets:
        yield from _of_sheet(sheet, is_full=is_full)
    for one in report.skipped:
        yield f"{one.shown}: passed over, {one.why}."
    if report.sheets and not report.is_new:
        yield "Everything was loaded before; nothing changed."
    elif report.sheets:
        yield _sums(report)
        is_listed = report.total("set_aside") or report.total("cells_blanked") or report.hours_not_used
        if is_listed and not report.is_check:
            yield "Every line and cell set aside, with reason and remedy: `stickfleet ledger --set-aside`, or the data screen."
        for what, count, first, last in report.spelt_alike:
            yield (
                f"{count:,} {what} differ only in capitals or spaces, such as '{first}' and '{last}'. If they are the same, "
                "say so in an aliases table (kind, raw, clean); for controllers correct the tags."
            )
        if report.hours_not_used:
            yield (
                f"{report.hours_not_used:,} hour readings do not fit the others of their unit; the jobs are kept, the hours "
                "not used."
            )


def _sums(report: LoadReport) -> str:
    would = "would be " if report.is_check else ""
    count = {name: report.total(name) for name in ("lines_read", "loaded", "set_aside", "repeated", "blank", "not_data")}
    replaced = "Would replace" if report.is_check else "Replaced"
    return (
        f"{_lines(count['lines_read'])} read = {count['loaded']:,} {would}loaded + {count['set_aside']:,} {would}set aside"
        f" + {count['repeated']:,} there already + {count['blank']:,} blank + {count['not_data']:,} headings, titles and totals."
        f" {replaced} earlier versions: {report.total('replaced'):,}. Cells left blank: {report.total('cells_blanked'):,}."
    )


def _of_sheet(sheet: SheetReport, *, is_full: bool) -> Iterator[str]:
    if sheet.is_new:
        parts = [f"{sheet.loaded:,} of {_lines(sheet.lines_read)} → {sheet.table}"]
        parts += [f"{count:,} {word}" for count, word in (
            (sheet.set_aside, "set aside"), (sheet.repeated, "there already"),
            (sheet.replaced, "replaced an earlier version"), (sheet.cells_blanked, "cells left blank"),
        ) if count]  # fmt: skip
        yield f"{sheet.shown}: {', '.join(parts)}."
    else:
        yield f"{sheet.shown}: already loaded, the very same file → {sheet.table}."
    if is_full:
        yield from _columns_of(sheet)
    named = sheet.problems if is_full else sheet.problems[:2]
    for problem in named:
        yield f"    {_problem(problem)}"
    if unnamed := sheet.problem_kinds - len(named):
        yield f"    and {unnamed:,} more kind{'s' if unnamed > 1 else ''} of problem in this file"


def _problem(problem: Problem) -> str:
    one, others = problem.first, problem.count - 1
    lines = f"line {one.line}" + (f" and {others:,} more" if others else "")
    what = "set aside" if one.is_row else "cell left blank"
    return f"{lines}: {one.refusal.reason} ({what}). {one.refusal.remedy}"


def _columns_of(sheet: SheetReport) -> Iterator[str]:
    decimal = f"decimal {sheet.decimal_mark}" if sheet.decimal_mark else ""
    order = f"dates {sheet.date_order}" if sheet.date_order else ""
    written = ", ".join(way for way in (sheet.encoding, sheet.delimiter, decimal, order) if way)
    if written:
        yield f"    written as: {written}"
    yield "    understood: " + ", ".join(f"'{heading}' as {name}" for heading, name in sheet.columns)
    if sheet.not_understood:
        more = len(sheet.not_understood) - _MOST_HEADINGS
        yield "    not understood, left out: " + ", ".join(
            [f"'{heading}'" for heading in sheet.not_understood[:_MOST_HEADINGS]] + ([f"and {more:,} more"] if more > 0 else [])
        )
    if sheet.missing_wanted:
        yield "    wanted and not there: " + ", ".join(sheet.missing_wanted)


def _lines(count: int) -> str:
    return f"{count:,} line" if count == 1 else f"{count:,} lines"
