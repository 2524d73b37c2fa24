"""Make the example fleet: `python -m example_data.make --jobs 20000 --seed 7 --out DIR`.

Without `--plain` the folder gets messy exports as three shops would write them; with it, one clean canonical CSV per
table (`jobs.csv`, `units.csv`, `usage_readings.csv` …), for benchmarks of any size. `truth.json` goes with both.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from example_data.exports import write_exports
from example_data.fleet import Fleet, make
from example_data.plain import write_plain

__all__ = ["Fleet", "main", "make"]


def main(words: list[str] | None = None) -> None:
    """Read the command line, make the fleet and write it."""
    parser = argparse.ArgumentParser(prog="example_data.make", description="Make an invented repair fleet of any size.")
    parser.add_argument("--jobs", type=int, default=20_000, help="about how many jobs (default 20000)")
    parser.add_argument("--seed", type=int, default=7, help="same seed, same fleet (default 7)")
    parser.add_argument("--out", type=Path, required=True, help="folder to write into; made if missing")
    parser.add_argument("--easy", action="store_true", help="the plain world whose truth is exactly Weibull")
    parser.add_argument("--plain", action="store_true", help="clean canonical CSVs instead of messy exports")
    asked = parser.parse_args(words)
    fleet = make(asked.jobs, asked.seed, easy=asked.easy)
    asked.out.mkdir(parents=True, exist_ok=True)
    if asked.plain:
        write_plain(fleet, asked.out)
    else:
        write_exports(fleet, asked.out, seed=asked.seed)
        (asked.out / "truth.json").write_text(json.dumps(fleet.truth, indent=1) + "\n", encoding="utf-8")
    print(f"{len(fleet.jobs):,} jobs of {len(fleet.units):,} units → {asked.out}")


if __name__ == "__main__":
    main()
