"""How often the limits of every estimate hold a known truth.

    python -m tests.calibration [--fleets 2000] [--part NAME] [--jobs 2]

Each part is written into DEVELOPERS.md as soon as it is done, in place of what stood there.
"""

from __future__ import annotations

import argparse
import re
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.calibration.parts import PARTS, SIZES, judged, made
from tests.calibration.score import table, told

TABLE = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"


def main() -> None:
    asked = argparse.ArgumentParser(prog="python -m tests.calibration", description="Measure how often limits hold the truth.")
    asked.add_argument("--fleets", type=int, default=2000, help="fleets at each number of failures; slow parts take a share")
    asked.add_argument("--part", choices=list(PARTS), action="append", help="only this part; may be given several times")
    asked.add_argument("--jobs", type=int, default=2, help="processes")
    words = asked.parse_args()
    with ProcessPoolExecutor(words.jobs) as pool:
        for part in words.part or PARTS:
            start, lines = time.perf_counter(), []
            for failures in SIZES:
                chunks = PARTS[part].chunks(failures, words.fleets)
                calls = [pool.submit(made, part, failures, chunk, fleets) for chunk, fleets in enumerate(chunks)]
                lines += judged(failures, [call.result() for call in calls])
            write(part, table(lines))
            print(f"{part}, {time.perf_counter() - start:.0f} s", *map(told, lines), sep="\n", end="\n\n", flush=True)


def write(part: str, written: str) -> None:
    """Put the lines of a part at the end of the page, in the order of the parts."""
    head, *rest = re.split(r"^### (?=\w+$)", TABLE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    sections = dict(one.split("\n", 1) for one in rest) | {part: f"\n{written}\n\n"}
    body = "".join(f"### {name}\n{sections[name]}" for name in PARTS if name in sections)
    TABLE.write_text(head + body, encoding="utf-8")


if __name__ == "__main__":
    main()
