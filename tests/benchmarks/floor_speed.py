"""The estimates and answers of a floor that buys lots and plans its work, CPU seconds of the better of two runs.

    .venv/bin/python -m tests.benchmarks.floor_speed

The sizes are those of a large floor: 1,000 controllers or families, 300 lots, 20,000 draws of twelve families.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd

from pipelines.answers.cleaning_plan import PlanFacts, plan_of
from pipelines.answers.cleaning_plan_calendar import plan_calendar
from pipelines.answers.next_failures import next_failures_of
from pipelines.answers.question import asked
from pipelines.estimates.crossed_share import crossed_share
from pipelines.estimates.going_price import going_prices
from pipelines.estimates.lot_fate import lot_fates
from pipelines.estimates.lot_inputs import Amount, Portion
from pipelines.estimates.lot_return import lot_returns
from pipelines.estimates.lot_value import lot_values
from pipelines.settings import Settings
from tests.answers.made_floor import planned_sticks
from tests.benchmarks.heavier_speed import cpu
from tests.calibration.forecasts import made_fleet
from tests.estimates.lots import made_fates, made_lines, plain_inputs
from tests.estimates.test_going_price import made as made_prices
from tests.estimates.test_lot_return import made_sales

DRAWS = 20_000


def main() -> None:
    """Make the floor and time each part."""
    for what, run, aim_s in parts():
        print(f"{what:52s} {cpu(run):6.3f} s  (aim {aim_s:.1f} s)", flush=True)


def parts() -> list[tuple[str, Callable[[], object], float]]:
    """Return what is timed, how it is run and the CPU seconds it should stay under."""
    rng = np.random.default_rng
    lines, sales = made_lines(rng(7), lots=300, families=30, sellers=10), made_sales(rng(1), lots=300)
    prices, fates = made_prices(rng(5), count=3000, families=1000)[0], lot_fates(made_fates(rng(7), lots=60))
    units = rng(13).multinomial(4, [0.4, 0.25, 0.2, 0.15], (DRAWS, 12))
    inputs = replace(plain_inputs(), resale=Amount(np.full((12, 4), 30.0), 1.0, 6.0), returned=Portion(0.05, 80))
    fleet = made_fleet(rng(2), 2000)[0]
    return [
        ("shares of 300 lots, 30 families, 10 sellers", lambda: crossed_share(lines), 0.6),
        ("fates of a lot of 12 families, 20,000 draws", lambda: drawn_fates(fates), 0.8),
        ("worth of a lot of 12 families, 20,000 draws", lambda: lot_values(units, inputs, seed=1), 0.9),
        ("returns of 300 lots and 5,000 draws", lambda: drawn_returns(sales), 1.0),
        ("going prices of 1,000 families in 3,000 lots", lambda: going_prices(prices, list(range(1000)), condition=0), 4.0),
        ("next failures of more than 1,000 controllers", lambda: next_failures_of(fleet, None, question("next-failures")), 1.0),
        ("cleaning plan and calendar of 1,000 controllers", planned, 1.0),
    ]


def question(name: str, **case: str):
    return asked(name, by=(), where={}, clock=None, level=None, settings=Settings(), case=case or None)


def drawn_fates(fates) -> np.ndarray:
    return fates.draws(dict.fromkeys(range(12), 4), condition=0, seller=None, count=DRAWS, rng=np.random.default_rng(1))


def drawn_returns(sales: pd.DataFrame) -> object:
    found = lot_returns(sales, days=90)
    return found.of_lot(dict.fromkeys([0, 1], "untested"), seller=None, count=5000, rng=np.random.default_rng(3))


def planned() -> bytes:
    words = question("cleaning-plan", interval_hours="400", capacity="9", weeks="26", closed="sun")
    return plan_calendar(plan_of(PlanFacts(planned_sticks(1000), "2025-01-01", "2025-06-30"), None, words))


if __name__ == "__main__":
    main()
