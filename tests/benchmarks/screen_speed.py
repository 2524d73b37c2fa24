"""How long the server works on opening a screen and on a change of filter, in seconds of CPU.

    python -m tests.benchmarks.screen_speed WAREHOUSE [SITE]

Every change is asked for the first time, so no answer comes from the cache. The aim is under 0.5 s,
and under 0.3 s for a change of a bid; planned cleaning by family takes its two steps within 2 s.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

from streamlit.testing.v1 import AppTest

APP = Path(__file__).resolve().parents[2] / "dashboard" / "app.py"


def timed(what: str, act: Callable[[], object]) -> None:
    """Run `act` and print what it took."""
    wall, cpu = time.perf_counter(), time.process_time()
    act()
    print(f"{what:44s} {time.process_time() - cpu:7.3f} s CPU {time.perf_counter() - wall:7.3f} s", flush=True)


def main(warehouse: str, site: str) -> None:
    """Open each screen and change its filters."""
    os.environ["STICKFLEET_WAREHOUSE"] = warehouse
    app = AppTest.from_file(str(APP), default_timeout=300)
    timed("front, with all imports", app.run)
    for name in ("cleaning_success", "time_to_failure", "recurrence"):
        app.switch_page(f"screens/{name}.py")
        timed(f"{name}: opened", app.run)
        timed(f"{name}: one site", app.multiselect(key="site").set_value([site]).run)
        timed(f"{name}: split by family and usage", app.multiselect(key="by").set_value(["family", "usage_class"]).run)
        app.multiselect(key="site").set_value([])
        timed(f"{name}: all sites again", app.run)
        app.multiselect(key="by").set_value(["family"])
    app.switch_page("screens/data.py")
    timed("data: opened", app.run)
    app.switch_page("screens/buying.py")
    timed("buying: opened", app.run)
    app.selectbox(key="family_1").set_value(app.selectbox(key="family_1").options[0])
    for box in app.number_input:
        if box.placeholder == "needed":
            box.set_value(1.0)
    timed("buying: a lot of 40", app.number_input(key="units_1").set_value(40).run)
    timed("buying: another cost", app.number_input(key="freight_out").set_value(5.0).run)
    app.switch_page("screens/planned_cleaning.py")
    timed("planned cleaning: opened", app.run)
    for box in app.number_input:
        if box.placeholder == "needed":
            box.set_value(1.0)
    timed("planned cleaning: costs given", app.run)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "north")
