"""A small warehouse for the screens, whose families carry text that a page must not act on."""

from __future__ import annotations

from pathlib import Path

from example_data.fleet import make
from example_data.plain import write_plain
from pipelines.load import load
from pipelines.settings import Settings

SCRIPT, MARKDOWN, FORMULA = "<script>alert(1)</script>", "$x$ **b** [l](http://outside.invalid)", "=1+1"
#: Families of the example, and what this shop calls them.
HOSTILE = {"Ambrel": SCRIPT, "Brindlow": MARKDOWN, "Corvath": FORMULA}


def write_exports(folder: Path, *, jobs: int = 1500, seed: int = 3) -> Path:
    """Write the exports of a small fleet, with one row that cannot be loaded, and return the folder."""
    fleet = make(jobs, seed)
    for table in fleet.tables.values():
        if "family" in table:
            table["family"] = table["family"].replace(HOSTILE)
    folder.mkdir(parents=True)
    write_plain(fleet, folder)
    sheet = folder / "jobs.csv"
    head, first, *rest = sheet.read_text(encoding="utf-8").splitlines()
    cells = dict(zip(head.split(","), first.split(","), strict=True)) | {"job_id": "bad", "received_on": "<b>30 February</b>"}
    sheet.write_text("\n".join([head, first, *rest, ",".join(cells.values())]) + "\n", encoding="utf-8")
    return folder


def make_warehouse(folder: Path, **size: int) -> Path:
    """Load those exports into a warehouse and return its folder."""
    warehouse = folder / "warehouse"
    load([write_exports(folder / "exports", **size)], warehouse=warehouse, settings=Settings())
    return warehouse
