"""What a load did, or a check found: one record per file and sheet, and the sentences that say it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipelines.logs.finding import Skipped
from pipelines.logs.rows import Finding

#: How many lines set aside are named in a report; the warehouse has them all.
EXAMPLES = 5


@dataclass(frozen=True)
class SheetReport:
    """One file and sheet. loaded + set_aside + repeated + blank + not_data = lines_read; replaced are among the loaded.

    columns: heading → column. missing_wanted: strongly wanted columns that it does not have. is_new: false when the
    very same file was loaded before, with the same mapping; then nothing was read again.
    """

    file: str
    sheet: str
    table: str
    encoding: str = ""
    delimiter: str = ""
    decimal_mark: str = ""
    date_order: str = ""
    lines_read: int = 0
    loaded: int = 0
    set_aside: int = 0
    repeated: int = 0
    replaced: int = 0
    blank: int = 0
    not_data: int = 0
    cells_blanked: int = 0
    columns: tuple[tuple[str, str], ...] = ()
    not_understood: tuple[str, ...] = ()
    missing_wanted: tuple[str, ...] = ()
    examples: tuple[Finding, ...] = ()
    is_new: bool = True

    @property
    def shown(self) -> str:
        return f"{self.file} [{self.sheet}]" if self.sheet else self.file


@dataclass(frozen=True)
class Refused:
    """A file that cannot be used at all, in a check."""

    file: str
    what: str
    remedy: str


@dataclass(frozen=True)
class LoadReport:
    """The whole load or check."""

    sheets: tuple[SheetReport, ...]
    skipped: tuple[Skipped, ...] = ()
    refused: tuple[Refused, ...] = ()
    is_check: bool = False

    @property
    def is_new(self) -> bool:
        """Tell whether any file was new to the warehouse."""
        return any(sheet.is_new for sheet in self.sheets)

    def total(self, name: str) -> int:
        """Return the sum of one count (`lines_read`, `loaded`, …) over the files that were read."""
        return sum(getattr(sheet, name) for sheet in self.sheets if sheet.is_new)

    def sentences(self, *, is_full: bool = False) -> list[str]:
        """Return the report as lines of text; is_full names columns and examples of every file."""
        return list(_sentences(self, is_full or self.is_check))


def _sentences(report: LoadReport, is_full: bool) -> Iterator[str]:
    for one in report.refused:
        yield f"CANNOT BE USED: {one.what} {one.remedy}"
    for sheet in report.sheets:
        yield from _of_sheet(sheet, is_full)
    for one in report.skipped:
        yield f"{one.shown}: passed over, {one.why}."
    if report.sheets and not report.is_new:
        yield "Everything was loaded before; nothing changed."
    elif report.sheets:
        yield _sums(report)
        if report.total("set_aside") and not report.is_check:
            yield "Each line that was set aside stands in the table set_aside and on the data screen, with reason and remedy."


def _sums(report: LoadReport) -> str:
    would = "would be " if report.is_check else ""
    count = {name: report.total(name) for name in ("lines_read", "loaded", "set_aside", "repeated", "blank", "not_data")}
    replaced = "Would replace" if report.is_check else "Replaced"
    return (
        f"{_lines(count['lines_read'])} read = {count['loaded']:,} {would}loaded + {count['set_aside']:,} {would}set aside"
        f" + {count['repeated']:,} there already + {count['blank']:,} blank + {count['not_data']:,} headings, titles and totals."
        f" {replaced} earlier versions: {report.total('replaced'):,}. Cells left blank: {report.total('cells_blanked'):,}."
    )


def _of_sheet(sheet: SheetReport, is_full: bool) -> Iterator[str]:
    if not sheet.is_new:
        yield f"{sheet.shown}: already loaded, the very same file."
        return
    parts = [f"{sheet.loaded:,} of {_lines(sheet.lines_read)} → {sheet.table}"]
    parts += [f"{count:,} {word}" for count, word in (
        (sheet.set_aside, "set aside"), (sheet.repeated, "there already"), (sheet.replaced, "replaced an earlier version"),
        (sheet.cells_blanked, "cells left blank"),
    ) if count]  # fmt: skip
    yield f"{sheet.shown}: {', '.join(parts)}."
    if is_full:
        order = f"dates {sheet.date_order}" if sheet.date_order else ""
        ways = [sheet.encoding, sheet.delimiter, f"decimal {sheet.decimal_mark}", order]
        yield f"    written as: {', '.join(way for way in ways if way)}"
        yield "    understood: " + ", ".join(f"'{heading}' as {name}" for heading, name in sheet.columns)
        if sheet.not_understood:
            yield "    not understood, left out: " + ", ".join(f"'{heading}'" for heading in sheet.not_understood[:40])
        if sheet.missing_wanted:
            yield "    wanted and not there: " + ", ".join(sheet.missing_wanted)
    for one in sheet.examples[: EXAMPLES if is_full else 2]:
        what = "set aside" if one.is_row else "cell left blank"
        yield f"    line {one.line}: {one.refusal.reason} ({what}). {one.refusal.remedy}"


def _lines(count: int) -> str:
    return f"{count:,} line" if count == 1 else f"{count:,} lines"
