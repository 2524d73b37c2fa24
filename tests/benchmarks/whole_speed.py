"""CPU of the whole main job on a million jobs, as a ratio to DuckDB's own typed parse of the same CSV, in one run.

    .venv/bin/python -m tests.benchmarks.whole_speed [--jobs 1000000] [--seed 1]

Each part runs in a process of its own, imports apart; memory is the peak of the loading process.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ANSWERS = (
    ("cleaning-success", ["family", "depth"]),
    ("time-to-failure", ["family"]),
    ("time-to-failure", ["family", "usage_class"]),
    ("recurrence", ["depth"]),
)


def parse(folder: Path) -> dict[str, float]:
    """DuckDB reads every column of jobs.csv with the contract's types."""
    import duckdb

    from pipelines.contract import columns_of

    types = {column.name: column.sql_type for column in columns_of("jobs")}
    path = str(folder / "jobs.csv")
    with open(path, encoding="utf-8") as handle:
        names = handle.readline().strip().split(",")
    connection = duckdb.connect()
    query = "SELECT count(COLUMNS(*)) FROM read_csv($path, header = true, columns = $types)"
    began = time.process_time()
    connection.execute(query, {"path": path, "types": {name: types[name] for name in names}}).fetchall()
    return {"parse": time.process_time() - began}


def load(folder: Path) -> dict[str, float]:
    """stickfleet loads jobs.csv and units.csv: checks, histories, everything a load does."""
    import pipelines.logs  # noqa: F401  imports apart; a load needs no lifelines
    from pipelines.load import load as run
    from pipelines.settings import Settings

    began = time.process_time()
    run([folder / "jobs.csv", folder / "units.csv"], warehouse=folder / "warehouse", settings=Settings())
    spent = time.process_time() - began
    return {"load": spent, "peak_gb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6}


def answer(folder: Path) -> dict[str, float]:
    """The questions on the loaded warehouse, without the heavier estimates and with them."""
    import lifelines  # noqa: F401  imports apart
    import scipy.optimize
    import scipy.stats  # noqa: F401

    from pipelines import warehouse
    from pipelines.answers import ask, cleaning_success, recurrence, time_to_failure  # noqa: F401

    found = {}
    with warehouse.reading(folder / "warehouse") as connection:
        for question, by in ANSWERS:
            for words, is_brief in (("", True), (", heavier estimates too", False)):
                began = time.process_time()
                ask(question, connection, by=by, is_brief=is_brief)
                found[f"{question} by {', '.join(by)}{words}"] = time.process_time() - began
    return found


PARTS = {"parse": parse, "load": load, "answer": answer}


def main() -> None:
    """Make the fleet, run the parts one after another, and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", choices=PARTS, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.part:
        print(json.dumps(PARTS[asked.part](asked.folder)))
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make = ["example_data.make", "--jobs", str(asked.jobs), "--seed", str(asked.seed), "--plain", "--out", name]
        subprocess.run([sys.executable, "-m", *make], check=True)
        runs = [_run(part, folder) for part in ("parse", "load", "answer", "parse")]
    parsed = (runs[0]["parse"] + runs[3]["parse"]) / 2
    answers = runs[2]
    print(f"DuckDB parses jobs.csv with types in {parsed:.2f} s of CPU (mean of one run before and one after)")
    print(f"load and histories: {runs[1]['load']:.2f} s = {runs[1]['load'] / parsed:.1f}×, peak {runs[1]['peak_gb']:.2f} GB")
    for words, spent in answers.items():
        print(f"{words}: {spent:.2f} s")
    three = sum(spent for words, spent in answers.items() if "usage_class" not in words and "heavier" not in words)
    print(f"load, histories and the three answers: {(runs[1]['load'] + three) / parsed:.1f}× the parse")


def _run(part: str, folder: Path) -> dict[str, float]:
    words = [sys.executable, "-m", "tests.benchmarks.whole_speed", "--part", part, "--folder", str(folder)]
    return json.loads(subprocess.run(words, check=True, capture_output=True, text=True).stdout)


if __name__ == "__main__":
    main()
