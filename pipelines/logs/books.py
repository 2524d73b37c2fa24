"""Workbooks as sheets. Of a formula only its value is read; each cell becomes the text it shows."""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Iterator

import numpy as np
from python_calamine import CalamineError, CalamineWorkbook

from pipelines.errors import InputError
from pipelines.logs import headings
from pipelines.logs.finding import Skipped
from pipelines.logs.headings import MOST_ROWS_ABOVE, Recognised
from pipelines.logs.mapping import FileMapping
from pipelines.logs.opening import Opened
from pipelines.logs.sheet import Dialect, RowsSheet, Sheet

#: A spreadsheet keeps 15 digits; a longer number has lost its end.
_EXACT = 10**15


def sheets_of(opened: Opened, mapping: FileMapping) -> tuple[list[Sheet], list[Skipped]]:
    """Return the sheets of a workbook whose table is known, and those passed over. Raises InputError."""
    sheets: list[Sheet] = []
    skipped: list[Skipped] = []
    refusal: InputError | None = None
    for name, rows in every_sheet(opened):
        shown = f"{opened.shown} [{name}]"
        if not any(cell for row in rows for cell in row):
            skipped.append(Skipped(shown, "an empty sheet"))
            continue
        found = headings.recognise(rows[:MOST_ROWS_ABOVE], mapping)
        if isinstance(found, Recognised):
            sheets.append(_sheet(opened.shown, name, found, mapping, rows))
        else:
            refusal = refusal or headings.refused(shown, found)
            skipped.append(Skipped(shown, "no table that is known"))
            if isinstance(found, headings.Ambiguous):
                raise headings.refused(shown, found)
    if not sheets:
        raise refusal or InputError(f"{opened.shown} is empty.", "Export it again, or leave it out.")
    return sheets, skipped


def every_sheet(opened: Opened) -> Iterator[tuple[str, list[list[str]]]]:
    """Give the name and all rows of each sheet, as the text that their cells show. Raises InputError."""
    try:
        book = CalamineWorkbook.from_path(str(opened.path))
        for name in book.sheet_names:
            cells = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            yield name, [[_text(cell) for cell in row] for row in cells]
    except (CalamineError, zipfile.BadZipFile, OSError, ValueError) as error:
        raise InputError(
            f"{opened.shown} cannot be read as a workbook ({str(error)[:120]}).",
            "Open it in a spreadsheet, without a password, and save it again as .xlsx.",
        ) from error


def _sheet(shown: str, name: str, found: Recognised, mapping: FileMapping, rows: list[list[str]]) -> RowsSheet:
    not_data = found.row + 1
    return RowsSheet(
        shown, name, found, mapping, Dialect(), rows[not_data:],
        np.arange(not_data + 1, len(rows) + 1, dtype=np.int64), len(rows), not_data, is_workbook=True,
    )  # fmt: skip


def _text(cell: object) -> str:
    """Return what the cell shows; 0012 stays text, 12.0 is 12, a date is ISO, a time is h:mm:ss."""
    match cell:
        case str():
            return cell
        case bool():
            return "yes" if cell else "no"
        case float():
            if not np.isfinite(cell):
                return ""
            if cell.is_integer():
                return str(int(cell)) if abs(cell) < _EXACT else f"{cell:.14E}"
            return repr(cell)
        case dt.datetime():
            return cell.isoformat(sep=" ", timespec="seconds") if cell.time() != dt.time() else cell.date().isoformat()
        case dt.timedelta():
            seconds = round(cell.total_seconds())
            return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
        case None:
            return ""
    return str(cell)
