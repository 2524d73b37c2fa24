"""The exports beside the job sheets: register, meter readings and the office's own tables."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from example_data.fleet import Fleet
from example_data.meters import misread_some
from example_data.sheets import write_gzip
from example_data.shop_words import spellings_of

UNIT_HEADINGS = {
    "unit_id": "Serial", "family": "Model", "usage_class": "Usage class", "sensor_type": "Sensor", "sticks": "Sticks",
    "in_service_on": "In service", "out_of_service_on": "Out of service", "out_reason": "Out reason",
    "new_or_used": "New or used", "site_id": "Site", "expected_hours_per_week": "Expected hours per week",
}  # fmt: skip
READING_HEADINGS = {
    "unit_id": "Serial", "read_on": "Read on", "hours": "Hours", "meter_reset": "Meter reset", "source": "Source",
}  # fmt: skip


def write_readings(rng, fleet: Fleet, folder: Path) -> dict[str, int]:
    """Write the meter readings, gzipped, with a few misread; return how many."""
    readings, misread = misread_some(rng, fleet.usage_readings)
    readings["meter_reset"] = readings["meter_reset"].map({True: "yes", False: ""})
    write_gzip(folder / "office" / "meter readings.csv.gz", _csv(readings.rename(columns=READING_HEADINGS)))
    return {"hours that fall": misread}


def write_others(fleet: Fleet, folder: Path) -> None:
    """Write every other table as CSV; seats, stops and the register under the office's own headings."""
    office = folder / "office"
    office.mkdir(parents=True, exist_ok=True)
    tables = {name: table for name, table in fleet.tables.items() if name not in ("jobs", "usage_readings")}
    tables["aliases"] = aliases(tables["units"]["family"].unique())
    for name, table in sorted(tables.items()):
        headings = UNIT_HEADINGS if name == "units" else {}
        shown = table[list(headings)].rename(columns=headings) if headings else table
        text = _csv(shown)
        if name == "downtime":
            write_gzip(office / f"{name}.csv.gz", text)
        else:
            (office / f"{name}.csv").write_bytes(text.encode())


def aliases(families) -> pd.DataFrame:
    """Return the spellings of each family that occur in the sheets, mapped to the register's own."""
    rows = [("family", raw, name) for name in sorted(families) for raw in spellings_of(name)[1:]]
    return pd.DataFrame(rows, columns=["kind", "raw", "clean"])


def _csv(table: pd.DataFrame) -> str:
    shown = table.copy()
    for name in shown.columns:
        if shown[name].dtype.kind == "M":
            has_time = name.endswith("_at") or name.startswith("down_")
            shown[name] = shown[name].dt.strftime("%Y-%m-%dT%H:%M" if has_time else "%Y-%m-%d")
    return shown.to_csv(index=False, lineterminator="\n", float_format="%g")
