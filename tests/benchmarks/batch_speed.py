"""The batch verdict of 200 batches over a million spells: CPU seconds, median of several runs.

    python -m tests.benchmarks.batch_speed [modules]

The spells lie in memory, as the screens hold them; reading, counting, ratios, B10 and (apart) suppliers are timed.
"""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np
import pandas as pd

from pipelines.answers.batch_lives import batch_lives
from pipelines.answers.batch_reading import read_batches
from pipelines.answers.question import asked
from pipelines.estimates.batch_suppliers import supplier_ratios
from pipelines.estimates.batch_verdict import compare_batches
from pipelines.settings import Settings
from tests.calibration.batches import Shape, fleet, opened

RUNS, COPIES = 3, 10


def main() -> None:
    modules = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    rng = np.random.default_rng(1)
    shape = Shape(200, modules // COPIES, variance=0.3, sites=20)
    ratios = np.where(np.arange(200) % 40 == 7, 2.5, 1.0)
    parts = [fleet(rng, shape, ratios) for _ in range(COPIES)]
    for number, part in enumerate(parts):
        part[["unit_no", "slot_no"]] += number * modules
    connection = opened(pd.concat(parts, ignore_index=True))
    connection.execute("CREATE TABLE unit (unit_id VARCHAR, in_service_on DATE)")
    connection.execute("CREATE TABLE job (received_on DATE, finding VARCHAR)")
    connection.execute("ALTER TABLE history_setting ADD COLUMN log_start DATE")
    connection.execute("ALTER TABLE history_setting ADD COLUMN log_end DATE")
    connection.execute("ALTER TABLE part_batch ADD COLUMN received_on DATE")
    connection.execute("ALTER TABLE part_batch ADD COLUMN qty INTEGER")
    connection.execute("ALTER TABLE part_batch ADD COLUMN unit_cost DOUBLE")
    connection.execute("""
        CREATE TABLE module AS
        SELECT slot_no, row_number() OVER () AS module_no, batch_fitted, NULL::VARCHAR AS batch_found, fitted_day,
            NULL::VARCHAR AS batches_named
        FROM described_spell
    """)
    connection.execute("SET threads = 2")
    words = asked("batch-verdict", by=(), where={}, clock=None, level=None, settings=Settings())
    times: dict[str, list[float]] = {"read and count": [], "ratios": [], "B10": [], "suppliers": []}
    for _ in range(RUNS):
        reading = _timed(times["read and count"], read_batches, connection, words)
        candidate = np.ones(len(reading.read.batches), dtype=bool)
        shares = {"is_candidate": candidate, "false_discovery_share": 0.1}
        _timed(times["ratios"], compare_batches, reading.cells, reading.alike, **shares)
        _timed(times["B10"], batch_lives, reading.lives, Settings(), alikeness=reading.alikeness, level=0.95)
        names = [f"P{number % 8}" for number in range(len(reading.read.batches))]
        _timed(times["suppliers"], supplier_ratios, reading.cells, names, reading.alikeness)
    median = {what: statistics.median(some) for what, some in times.items()}
    print(*(f"{what}: {seconds:.2f} s" for what, seconds in median.items()), sep="\n")
    whole = sum(seconds for what, seconds in median.items() if what != "suppliers")
    sizes = f"{len(reading.read.batches)} batches, {len(reading.read.strata):,} strata, {modules:,} spells"
    print(f"verdict table: {whole:.2f} s ({sizes})")


def _timed(into: list[float], work, *words, **more):
    start = time.process_time()
    found = work(*words, **more)
    into.append(time.process_time() - start)
    return found


if __name__ == "__main__":
    main()
