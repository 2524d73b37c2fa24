"""The errors put into the exports on purpose, each kind counted. About one row in a hundred is hit."""

from __future__ import annotations

import numpy as np
import pandas as pd

#: kind → (share of rows hit, what a loader should do with it).
KINDS = {
    "unknown action word": (0.0010, "row set aside"),
    "unknown outcome word": (0.0010, "row set aside"),
    "impossible date": (0.0012, "row set aside"),
    "date in the future": (0.0005, "row set aside"),
    "no unit": (0.0006, "row set aside"),
    "closed before received": (0.0012, "row set aside or cell blanked"),
    "hours that fall": (0.0020, "cell blanked"),
    "hours typed as 9999": (0.0008, "cell blanked"),
    "hours with a thousands mark": (0.0030, "read as meant"),
}


def break_some(rng, cells: pd.DataFrame, table: pd.DataFrame, decimal: str, date_format: str) -> dict[str, list[int]]:
    """Break some rows of `cells` in place; return kind → row numbers. A row is hit once at most.

    cells: text cells by dictionary column. table: the same rows, clean.
    """
    free = np.ones(len(cells), bool)
    hit: dict[str, list[int]] = {}
    for kind, (share, _) in KINDS.items():
        able = np.flatnonzero(free & _able(kind, table))
        rows = np.sort(rng.choice(able, min(len(able), max(1, round(share * len(cells)))), replace=False)) if len(able) else []
        for row in rows:
            _break(kind, cells, table, int(row), decimal, date_format)
        free[rows] = False
        hit[kind] = [int(row) for row in rows]
    return {kind: rows for kind, rows in hit.items() if rows}


def _able(kind: str, table: pd.DataFrame) -> np.ndarray:
    if kind == "hours that fall":
        return (table["usage_hours"] > 400).to_numpy() & (table["life_known_from"] != "bought_used").to_numpy()
    if kind == "hours typed as 9999":
        return table["usage_hours"].notna().to_numpy()
    if kind == "hours with a thousands mark":
        return (table["usage_hours"] > 1000).to_numpy()
    if kind == "closed before received":
        return (table["closed_on"] > table["received_on"]).to_numpy()
    return (table["received_on"] < table["received_on"].max() - pd.Timedelta(days=120)).to_numpy()


def _break(kind: str, cells: pd.DataFrame, table: pd.DataFrame, row: int, decimal: str, date_format: str) -> None:
    received = table["received_on"].iloc[row]
    match kind:
        case "unknown action word":
            _put(cells, row, "action", ("polished", "zapped", "see sheet 2")[row % 3])
        case "unknown outcome word":
            _put(cells, row, "outcome", ("maybe", "ask boss", "#REF!")[row % 3])
        case "impossible date":
            _put(cells, row, "received_on", _no_such_day(received, date_format))
        case "date in the future":
            _put(cells, row, "received_on", received.replace(year=received.year + 40).strftime(date_format))
        case "no unit":
            _put(cells, row, "unit_id", "")
        case "closed before received":
            earlier = received - pd.Timedelta(days=30 + row % 40)
            _put(cells, row, "closed_on", earlier.strftime(date_format))
        case "hours that fall":
            _put(cells, row, "usage_hours", f"{table['usage_hours'].iloc[row] / 10:.1f}".replace(".", decimal))
        case "hours typed as 9999":
            _put(cells, row, "usage_hours", "9999")
        case "hours with a thousands mark":
            text = f"{table['usage_hours'].iloc[row]:,.1f}"
            _put(cells, row, "usage_hours", text if decimal == "." else text.translate(str.maketrans(",.", ".,")))


def _no_such_day(received: pd.Timestamp, date_format: str) -> str:
    """Return 30 February of that year, in the sheet's own order."""
    return date_format.replace("%Y", str(received.year)).replace("%m", "02").replace("%d", "30")


def _put(cells: pd.DataFrame, row: int, column: str, text: str) -> None:
    cells.iat[row, cells.columns.get_loc(column)] = text
