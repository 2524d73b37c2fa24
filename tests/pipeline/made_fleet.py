"""The example's program through the whole pipeline: made, written as Parquet, loaded, and opened for answers."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import pyarrow.parquet as parquet

from example_data.fleet import Fleet, make
from example_data.plain import as_arrow
from pipelines import warehouse
from pipelines.load import load
from pipelines.settings import Settings


@contextmanager
def loaded_fleet(jobs: int, seed: int, folder: Path, *, easy: bool) -> Iterator[tuple[Fleet, duckdb.DuckDBPyConnection]]:
    """Make a fleet, load it into a new warehouse in `folder`, and give the fleet and a connection."""
    fleet = make(jobs, seed, easy=easy)
    exports = folder / "exports"
    exports.mkdir(parents=True)
    for name, table in fleet.tables.items():
        parquet.write_table(as_arrow(table), exports / f"{name}.parquet")
    report = load([exports], warehouse=folder / "warehouse", settings=Settings())
    assert [sheet.set_aside for sheet in report.sheets if sheet.table == "jobs"] == [0]
    with warehouse.reading(folder / "warehouse") as connection:
        yield fleet, connection
