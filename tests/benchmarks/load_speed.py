"""A load against DuckDB's own typed parse of the same CSV, side by side in one run; CPU seconds and peak memory.

    python tests/benchmarks/load_speed.py [jobs] [--histories]

Each step runs in a process of its own, so that memory is its own and imports do not count. The parse gives every
column the contract's type and reads it through (no table is written); the load checks every cell, keeps every row with
its line, and writes the warehouse. The best of three runs counts, since the machine may be shared.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

JOBS = 1_000_000
RUNS = 3


def main() -> None:
    words = [word for word in sys.argv[1:] if not word.startswith("--")]
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log"
        log.mkdir()
        _apart(_write, log, int(words[0]) if words else JOBS)
        jobs = log / "jobs.csv"
        columns = jobs.open(encoding="utf-8").readline().count(",") + 1
        print(f"{jobs.stat().st_size / 1e6:.0f} MB, {columns} columns")
        parse, _ = _best(_parse, jobs)
        loaded, memory = _best(_load, jobs, "--histories" in sys.argv)
        print(f"typed parse {parse:.2f} s, load {loaded:.2f} s of CPU: {loaded / parse:.1f} times, {memory:.0f} MB at most")


def _write(folder: Path, count: int) -> tuple[float, float]:
    from example_data.make import make
    from example_data.plain import write_plain

    write_plain(make(count, 1), folder)
    return 0.0, 0.0


def _parse(path: Path) -> tuple[float, float]:
    import duckdb

    from pipelines.contract import columns_of

    types = {column.name: column.sql_type for column in columns_of("jobs")}
    header = path.open(encoding="utf-8").readline().strip().split(",")
    with duckdb.connect() as connection:
        relation = connection.read_csv(str(path), header=True, sep=",", dtype={name: types[name] for name in header})
        before = _cpu()
        relation.aggregate(", ".join(f"max({name})" for name in header)).fetchall()
        return _cpu() - before, _megabytes()


def _load(path: Path, has_histories: bool) -> tuple[float, float]:
    import duckdb  # noqa: F401
    import pyarrow.csv
    import pyarrow.parquet  # noqa: F401
    import python_calamine  # noqa: F401

    from pipelines.facts.build import build
    from pipelines.load import load
    from pipelines.settings import Settings

    paths = sorted(path.parent.glob("*.csv")) if has_histories else [path]
    with tempfile.TemporaryDirectory() as folder:
        before = _cpu()
        load(
            paths,
            warehouse=Path(folder),
            settings=Settings(),
            build=build if has_histories else lambda connection, settings: None,
        )
        return _cpu() - before, _megabytes()


def _cpu() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _best(work: Callable, *words: object) -> tuple[float, float]:
    runs = [_apart(work, *words) for _ in range(RUNS)]
    return min(cpu for cpu, _ in runs), max(memory for _, memory in runs)


def _apart(work: Callable, *words: object) -> tuple[float, float]:
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work, words)


if __name__ == "__main__":
    main()
