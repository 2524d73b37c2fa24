"""The clean canonical CSVs: dictionary columns, ISO dates, blank for missing, UTF-8."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.csv

from example_data.fleet import Fleet


def write_plain(fleet: Fleet, folder: Path) -> None:
    """Write one CSV per table into `folder`; columns that are blank throughout are left out."""
    for name, table in fleet.tables.items():
        columns = as_arrow(table)
        # Nothing in these tables needs quotes; the writer raises if that ever changes.
        options = pa.csv.WriteOptions(quoting_style="none", include_header=False)
        with (folder / f"{name}.csv").open("wb") as file:
            file.write((",".join(columns.column_names) + "\n").encode())
            pa.csv.write_csv(columns, file, options)


def as_arrow(table: pd.DataFrame) -> pa.Table:
    """Return the table with dates as dates (a column with a time of day keeps it) and without blank columns."""
    columns = {}
    for name in table.columns:
        column = table[name]
        if column.isna().all():
            continue
        if column.dtype.kind == "M":
            has_time = name.endswith("_at") or name.startswith("down_")
            columns[name] = pa.array(column, pa.timestamp("s") if has_time else pa.date32())
        else:
            columns[name] = pa.array(column, from_pandas=True)
    return pa.table(columns)
