"""Make the example fleet: `python -m example_data.make --jobs 20000 --seed 7 --out DIR`.

Without `--plain` the folder gets messy exports as three shops would write them; with it, one clean canonical CSV per
table (`jobs.csv`, `units.csv`, `usage_readings.csv` …), for benchmarks of any size.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from example_data.exports import write_exports
from example_data.fleet import Fleet, make
from example_data.plain import write_plain

__all__ = ["Fleet", "main", "make"]


#: Large enough that a counted share of cleans is known to about one point per family.
TRUTH_JOBS = 400_000


def known_truth() -> dict:
    """Return the stated truth of both worlds, with what is only counted taken from one large run of each."""
    runs = {name: make(TRUTH_JOBS, 1, easy=name == "easy").truth for name in ("easy", "hard")}
    return json.loads(json.dumps(runs), parse_float=lambda text: round(float(text), 4))


def main(words: list[str] | None = None) -> None:
    """Read the command line, make the fleet and write it."""
    parser = argparse.ArgumentParser(prog="example_data.make", description="Make an invented repair fleet of any size.")
    parser.add_argument("--jobs", type=int, default=20_000, help="about how many jobs (default 20000)")
    parser.add_argument("--seed", type=int, default=7, help="same seed, same fleet (default 7)")
    parser.add_argument("--out", type=Path, required=True, help="folder to write into; made if missing")
    parser.add_argument("--easy", action="store_true", help="the plain world whose truth is exactly Weibull")
    parser.add_argument("--plain", action="store_true", help="clean canonical CSVs instead of messy exports")
    parser.add_argument("--truth", type=Path, help="also write the known truth of both worlds to this JSON file")
    asked = parser.parse_args(words)
    fleet = make(asked.jobs, asked.seed, easy=asked.easy)
    asked.out.mkdir(parents=True, exist_ok=True)
    if asked.plain:
        write_plain(fleet, asked.out)
    else:
        write_exports(fleet, asked.out, seed=asked.seed)
    if asked.truth:
        asked.truth.write_text(json.dumps(known_truth(), indent=1) + "\n", encoding="utf-8")
    print(f"{len(fleet.jobs):,} jobs of {len(fleet.units):,} units → {asked.out}")


if __name__ == "__main__":
    main()
