"""Opens the dashboard on the example: makes the environment, loads `example_data/exports`, prints the address.

    python3 example_data/open.py [--port N] [--no-browser]

Further words go to `stickfleet dashboard`. Needs Python 3.11 or newer with pip; everything else is brought along.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[0] = str(ROOT)  # this script's own folder stands there, and its modules must not hide others

from pipelines import environment  # noqa: E402

EXPORTS = ROOT / "example_data" / "exports"
WAREHOUSE = ROOT / ".stickfleet" / "example"


def main(words: list[str]) -> None:
    """Load the example once (the same files change nothing) and open the dashboard on it."""
    python = environment.ready()
    code = environment.run(python, "-m", "pipelines", "load", str(EXPORTS), "--warehouse", str(WAREHOUSE))
    if code:
        raise SystemExit(code)
    environment.become(python, "-m", "pipelines", "dashboard", "--warehouse", str(WAREHOUSE), *words)


if __name__ == "__main__":
    main(sys.argv[1:])
