"""A small bench for the intake's tests: write exports into a folder, load them, look into the warehouse."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from pipelines import warehouse
from pipelines.load import load
from pipelines.logs.report import LoadReport, SheetReport
from pipelines.settings import Settings

TODAY = dt.date(2026, 6, 30)
COLUMNS = ("job_id", "unit_id", "stick", "family", "received_on", "action", "outcome")


@dataclass
class Bench:
    """One folder of exports and one warehouse."""

    folder: Path

    @property
    def warehouse(self) -> Path:
        return self.folder / "warehouse"

    def write(self, name: str, content: str | bytes) -> Path:
        path = self.folder / "exports" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    def load(self, *paths: Path, mapping: str = "", strict: bool = False) -> LoadReport:
        """Load the whole folder, or the paths; the histories are not built."""
        return load(
            paths or [self.folder / "exports"], warehouse=self.warehouse, settings=Settings(), today=TODAY, strict=strict,
            mapping=self.mapping(mapping) if mapping else None, build=lambda connection, settings: None,
        )  # fmt: skip

    def load_text(self, text: str | bytes, *, name: str = "jobs.csv", mapping: str = "", strict: bool = False) -> SheetReport:
        return self.load(self.write(name, text), mapping=mapping, strict=strict).sheets[0]

    def mapping(self, text: str) -> Path:
        path = self.folder / "mapping.toml"
        path.write_text(text, encoding="utf-8")
        return path

    def rows(self, query: str) -> list[tuple]:
        with warehouse.reading(self.warehouse) as connection:
            return connection.execute(query).fetchall()

    def column(self, name: str, table: str = "job") -> list:
        with warehouse.reading(self.warehouse) as connection:
            frame = connection.table(table).order("file_id, line").select(name)
            return [row[0] for row in frame.fetchall()]

    def set_aside(self) -> list[tuple[int, str, str]]:
        """Return (line, column, reason) of each row set aside."""
        return self.rows("SELECT line, column_name, reason FROM set_aside WHERE is_row ORDER BY file_id, line")

    def blanked(self) -> list[tuple[int, str, str]]:
        """Return (line, column, reason) of each cell left blank."""
        return self.rows("SELECT line, column_name, reason FROM set_aside WHERE NOT is_row ORDER BY file_id, line, column_name")


def job(**said: str) -> dict[str, str]:
    """Return one clean job with some cells said otherwise."""
    clean = {"job_id": "J1", "unit_id": "U1", "stick": "L", "family": "Nolm", "received_on": "2026-01-05",
             "action": "clean_air", "outcome": "pass"}  # fmt: skip
    return clean | said


def csv_of(*jobs: Mapping[str, str], delimiter: str = ",") -> str:
    """Return jobs as a CSV with the contract's own headings; ids J1, J2 … where none is said."""
    names = list(dict.fromkeys(name for one in jobs for name in one))
    lines = [delimiter.join(names)]
    for number, one in enumerate(jobs, start=1):
        cells = one | ({"job_id": f"J{number}"} if one.get("job_id") == "J1" else {})
        lines.append(delimiter.join(cells.get(name, "") for name in names))
    return "\n".join(lines) + "\n"


def accounted(sheet: SheetReport) -> bool:
    """Tell whether every line is accounted for."""
    return sheet.lines_read == sheet.loaded + sheet.set_aside + sheet.repeated + sheet.blank + sheet.not_data
