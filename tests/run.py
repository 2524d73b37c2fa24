"""Runs every check: makes the environment with the test tools, then ruff, then pytest.

    python3 tests/run.py               everything, on up to four processes
    python3 tests/run.py WORDS…        pytest with exactly these words, e.g. tests/test_house.py -k floor

The exit code is pytest's; if pytest passes and ruff does not, it is ruff's.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[0] = str(ROOT)  # this script's own folder stands there, and its modules must not hide others

from pipelines import environment  # noqa: E402


def main(words: list[str]) -> int:
    """Return the exit code."""
    python = environment.ready(extras=["tests"])
    lint = environment.run(python, "-m", "ruff", "check", ".")
    # A file stays on one process: its warehouse is made once, its browser started once.
    spread = ["-n", str(min(os.cpu_count() or 1, 4)), "--dist", "loadfile"]
    return environment.run(python, "-m", "pytest", *(words or spread)) or lint


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
