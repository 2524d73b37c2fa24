"""The made fleet as three shops would export it: quarterly job sheets, workbooks and the tables beside them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from example_data import companion_sheets, mistakes
from example_data.fleet import Fleet
from example_data.meters import reset_some_meters
from example_data.sheets import as_cells, csv_lines, write_lines, write_workbook
from example_data.shop_words import BENCH, NORTH, SOUTH, Shop, spellings_of

QUARTERS = pd.period_range("2023Q3", "2026Q2", freq="Q")
#: Each sheet begins this many days before its quarter, so neighbours overlap.
OVERLAP = pd.Timedelta(days=10)
UNKNOWN_UNTIL_CLOSED = (
    "closed_on", "returned_to_service_on", "al_rest_offset_pct", "al_jitter_pct", "bench_minutes", "part_batch_fitted",
)  # fmt: skip


def write_exports(fleet: Fleet, folder: Path, *, seed: int) -> dict[str, dict[str, int]]:
    """Write the messy exports into `folder`; return how many rows of each kind were broken, by site."""
    rng = np.random.default_rng([seed, 99])
    fleet, reset_units = reset_some_meters(rng, fleet)
    counts = {
        "north": _write_north(rng, _site(fleet, "north"), folder),
        "south": _write_south(rng, _site(fleet, "south"), folder),
        "bench": _write_bench(rng, _site(fleet, "bench"), folder),
        "readings": {"meters changed": len(reset_units)} | companion_sheets.write_readings(rng, fleet, folder),
    }
    companion_sheets.write_others(fleet, folder)
    return counts


def _site(fleet: Fleet, site: str) -> pd.DataFrame:
    return fleet.jobs[fleet.jobs["site_id"] == site].reset_index(drop=True)


def _respelt(rng, cells: pd.DataFrame) -> None:
    """Write one family cell in three in another of its five spellings, in place."""
    turn = np.where(rng.random(len(cells)) < 0.33, rng.integers(1, 5, len(cells)), 0)
    lookup = {name: spellings_of(name) for name in cells["family"].unique()}
    cells["family"] = [lookup[name][t] for name, t in zip(cells["family"], turn, strict=True)]


def _sheet(rng, cells: pd.DataFrame, table: pd.DataFrame, quarter: pd.Period, shop: Shop) -> pd.DataFrame:
    """Return the rows one quarter's export shows: what was unfinished that day is open, some minutes differ later."""
    start, end = quarter.start_time - OVERLAP, quarter.end_time
    inside = (table["received_on"] >= start) & (table["received_on"] <= end)
    shown, clean = cells[inside].copy(), table[inside]
    unfinished = ((clean["closed_on"] > end) | clean["closed_on"].isna()).to_numpy()
    for name in UNKNOWN_UNTIL_CLOSED:
        if name in shown:
            shown.loc[unfinished, name] = ""
    shown.loc[unfinished, "outcome"] = shop.words["outcome"]["open"]
    shown.loc[unfinished, "action"] = shop.words["action"]["test_only"]
    edited = ((clean["received_on"] < quarter.start_time) & (rng.random(len(clean)) < 0.05)).to_numpy() & ~unfinished
    shown.loc[edited, "bench_minutes"] = (clean.loc[edited, "bench_minutes"] + 2).astype(int).astype(str)
    return shown


def _write_north(rng, table: pd.DataFrame, folder: Path) -> dict[str, int]:
    cells = as_cells(rng, table, NORTH)
    _respelt(rng, cells)
    broken = mistakes.break_some(rng, cells, table, decimal=".", date_format=NORTH.date_format)
    counts = {kind: len(rows) for kind, rows in broken.items()} | {"extra comma": 0, "line twice": 0, "heading again": 0}
    for turn, quarter in enumerate(QUARTERS):
        shown = _sheet(rng, cells, table, quarter, NORTH)
        lines = csv_lines([list(NORTH.headings.values()), *shown.to_numpy().tolist()], NORTH)
        if turn % 2 and len(lines) > 40:
            spot = int(rng.integers(20, len(lines) - 5))
            lines[spot] = lines[spot].replace(",", ",,", 1) if turn % 4 == 1 else lines[spot] + ",see, note"
            counts["extra comma"] += 1
            again = rng.integers(5, len(lines) - 1, 2)
            lines += [lines[i] for i in again]
            counts["line twice"] += len(again)
        if turn == 4:
            lines.insert(len(lines) // 2, lines[0])
            counts["heading again"] += 1
        lines[10:10] = [""] * (turn % 3)
        # The till's newer version writes a byte-order mark.
        write_lines(folder / "north" / f"jobs_{quarter}.csv", lines, "utf-8" if turn < 6 else "utf-8-sig")
    return counts


def _write_south(rng, table: pd.DataFrame, folder: Path) -> dict[str, int]:
    table = _both_sticks_in_one_row(rng, table)
    cells = as_cells(rng, table, SOUTH)
    _respelt(rng, cells)
    cells["note"] = np.where((cells["note"] == "") & (rng.random(len(cells)) < 0.01), "½ tilt – café side", cells["note"])
    broken = mistakes.break_some(rng, cells, table, decimal=",", date_format=SOUTH.date_format)
    counts = {kind: len(rows) for kind, rows in broken.items()} | {"both sticks in one row": int((table["stick"] == "B").sum())}
    headings = list(SOUTH.headings.values())
    for quarter in QUARTERS:
        shown = _sheet(rng, cells, table, quarter, SOUTH)
        minutes = pd.to_numeric(shown["bench_minutes"], errors="coerce").sum()
        total = ["Total", *[""] * (len(headings) - 1)]
        total[headings.index("Bench minutes")] = f"{minutes:.0f}"
        title = [f"{SOUTH.title}, {quarter}", *[""] * (len(headings) - 1)]
        lines = csv_lines([title, headings, *shown.to_numpy().tolist(), total], SOUTH)
        lines.insert(1, "")
        write_lines(folder / "south" / f"repair log {quarter}.csv", lines, SOUTH.encoding)
    return counts


def _both_sticks_in_one_row(rng, table: pd.DataFrame) -> pd.DataFrame:
    """Join some pairs of fault-free rows of one visit into one row for both sticks, as a hurried bench does."""
    plain = table[(table["finding"] == "no_fault_found") & (table["action"] == "test_only") & (table["note"].isna())]
    pairs = plain[plain.duplicated("visit_id", keep=False)]
    visits = pairs["visit_id"].unique()
    chosen = visits[rng.random(len(visits)) < 0.08]
    is_chosen = table["visit_id"].isin(chosen)
    joined = table[~(is_chosen & table.duplicated("visit_id"))].reset_index(drop=True)
    both = joined["visit_id"].isin(chosen)
    joined.loc[both, "stick"] = "B"
    readings = [name for name in joined if name.startswith(("af_", "al_"))]
    joined.loc[both, readings] = np.nan
    return joined


def _write_bench(rng, table: pd.DataFrame, folder: Path) -> dict[str, int]:
    cells = as_cells(rng, table, BENCH)
    broken = mistakes.break_some(rng, cells, table, decimal=".", date_format=BENCH.date_format)
    early = (table["received_on"] < pd.Timestamp("2025-01-01")).to_numpy()
    for name, rows in (("2023-2024", early), ("2025-2026", ~early)):
        frame, typed = cells[rows].reset_index(drop=True), table[rows].reset_index(drop=True)
        write_workbook(folder / "bench" / f"bench jobs {name}.xlsx", frame, typed, BENCH, rng)
    return {kind: len(rows) for kind, rows in broken.items()}
