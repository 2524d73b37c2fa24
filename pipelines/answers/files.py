"""Tables as files: CSV and an Excel workbook. Text that a spreadsheet would run as a formula gets an apostrophe."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable, Mapping
from pathlib import Path

import pandas as pd

from pipelines.errors import SettingError

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
#: Control characters that a workbook cannot hold.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")


def csv_bytes(frame: pd.DataFrame) -> bytes:
    """Return the table as UTF-8 CSV with a byte-order mark, which spreadsheets need to read it as UTF-8."""
    return frame.map(_harmless).rename(columns=_harmless).to_csv(index=False, lineterminator="\r\n").encode("utf-8-sig")


def workbook_bytes(sheets: Mapping[str, pd.DataFrame]) -> bytes:
    """Return the tables as one workbook, a sheet each."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    for name, frame in sheets.items():
        sheet = book.create_sheet(name)
        sheet.freeze_panes = "A2"
        sheet.append([_harmless(column) for column in frame.columns])
        for row in frame.itertuples(index=False):
            sheet.append([_cell(value) for value in row])
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def write_tables(tables: Mapping[str, pd.DataFrame], out: Path) -> None:
    """Write the first table to a .csv file, or all of them to an .xlsx file, a sheet each. Raises SettingError."""
    suffix = out.suffix.lower()
    if suffix not in (".csv", ".xlsx"):
        raise SettingError(f"'{out.name}' is neither a .csv nor an .xlsx file.", "Name one that ends so.")
    try:
        out.write_bytes(workbook_bytes(tables) if suffix == ".xlsx" else csv_bytes(next(iter(tables.values()))))
    except OSError as error:
        raise SettingError(f"{out} cannot be written ({error.strerror}).", "Name a file in a folder that is there.") from error


def write_sheet(answer, path: Path, page: Callable, workbook: Callable) -> None:
    """Write an answer as what the file's ending says: .html by `page`, .xlsx by `workbook`. Raises SettingError."""
    make = {".html": page, ".xlsx": workbook}.get(path.suffix.lower())
    if make is None:
        raise SettingError(f"A sheet cannot be written as {path.name}.", "Name a file that ends in .html or .xlsx.")
    try:
        path.write_bytes(make(answer))
    except OSError as error:
        raise SettingError(f"{path} cannot be written: {error.strerror}.", "Name a file in a folder that is there.") from error


def _harmless(value: object) -> object:
    if not isinstance(value, str):
        return value
    value = _CONTROL.sub(" ", value)
    return f"'{value}" if value.startswith(_FORMULA) else value


def _cell(value: object) -> object:
    if value is None or value is pd.NA or value is pd.NaT or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, pd.Timestamp):
        return value.to_pydatetime()
    if hasattr(value, "item"):
        return value.item()
    return _harmless(str(value) if isinstance(value, str) else value)
