"""Clean rows → the text cells of one shop's sheet, and sheets → files."""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import io
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd

from example_data.shop_words import Shop

#: Written into every workbook, so that the same fleet gives the same cells and properties.
_STAMP = dt.datetime(2026, 7, 1, 9, 0)


def as_cells(rng, table: pd.DataFrame, shop: Shop) -> pd.DataFrame:
    """Return the shop's columns of `table` as text, in its words, dates and numbers; blanks in its several ways."""
    cells = {}
    for name in shop.headings:
        column = table[name]
        cells[name] = _as_text(column, name, shop).to_numpy(object)
    frame = pd.DataFrame(cells, dtype=object)
    for name in shop.headings:
        missing = frame[name].isna().to_numpy()
        frame.loc[missing, name] = np.array(shop.blanks, object)[rng.integers(0, len(shop.blanks), missing.sum())]
    return frame


def _as_text(column: pd.Series, name: str, shop: Shop) -> pd.Series:
    if column.dtype.kind == "M":
        return column.dt.strftime(shop.date_format)
    if name == "action":
        said = {a: shop.joiner.join(shop.words["action"][w] for w in a.split("+")) for a in column.unique()}
        return column.map(said)
    if name in shop.words:
        return column.map(shop.words[name]).where(column.notna(), None)
    if column.dtype.kind == "f":
        text = column.map(lambda value: f"{value:g}".replace(".", shop.decimal), na_action="ignore")
        if name.endswith("_cost"):
            text = text.map(shop.money.format, na_action="ignore")
        return text.where(column.notna(), None)
    return column.astype("string").astype(object).where(column.notna(), None)


def csv_lines(rows: list[list[str]], shop: Shop) -> list[str]:
    """Return one line per row, quoted only where needed."""
    text = io.StringIO()
    csv.writer(text, delimiter=shop.separator, lineterminator="\n").writerows(rows)
    return text.getvalue().splitlines()


def write_lines(path: Path, lines: list[str], encoding: str) -> None:
    """Write lines with the line ends that spreadsheets use."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(("\r\n".join(lines) + "\r\n").encode(encoding))


def write_gzip(path: Path, text: str) -> None:
    """Write a gzip file whose bytes do not depend on the day it is made."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(gzip.compress(text.encode(), mtime=0))


def write_workbook(path: Path, frame: pd.DataFrame, typed: pd.DataFrame, shop: Shop, rng) -> None:
    """Write one sheet: headings, a units row, then rows whose dates are date cells except where typed as text.

    frame: text cells. typed: the same rows with dates and numbers as such.
    """
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Jobs"
    sheet.append(list(shop.headings.values()))
    sheet.append([shop.units_row.get(name) for name in shop.headings])
    text, values = frame.to_numpy(object), typed[list(shop.headings)]
    columns = [_cells_of(rng, values[name], text[:, place]) for place, name in enumerate(shop.headings)]
    for row in zip(*columns, strict=True):
        sheet.append(row)
    book.properties.created = book.properties.modified = _STAMP
    path.parent.mkdir(parents=True, exist_ok=True)
    book.save(path)


def _cells_of(rng, column: pd.Series, text: np.ndarray) -> list:
    """Return what goes into the sheet's cells: real dates and numbers, text where somebody typed text."""
    shown = [None if one == "" else one for one in text]
    if column.dtype.kind not in "Mfi":
        return shown
    is_text = column.isna().to_numpy() | (text == "")
    if column.dtype.kind == "M":
        is_text |= (rng.random(len(column)) < 0.04) | (text != column.dt.strftime("%Y-%m-%d").to_numpy(object))
        values = [None if pd.isna(day) else day.to_pydatetime() for day in column]
    else:
        values = column.tolist()
    return [one if typed else value for one, value, typed in zip(shown, values, is_text, strict=True)]
