"""The made fleet: draws the register, runs the arcades and the bench, and returns clean canonical tables."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from example_data import canonical, companions, truth
from example_data.arcades import Arcades
from example_data.lots import Bench, draw_lots
from example_data.register import draw_register
from example_data.scenario import EASY, FAMILIES, World
from example_data.seats import draw_seats

#: Measured: jobs that one arcade unit gives over the log, in the hard and in the easy world.
JOBS_PER_UNIT = {False: 13.4, True: 15.8}


@dataclass(frozen=True)
class Fleet:
    """One simulated fleet.

    tables: canonical rows by table name, columns as in the data dictionary. latent_modules: what each fitted module's
    first life would be [h] (`age_h` > 0: it was already used when watching began). latent_cleans: how long each passed
    arcade clean would hold [h, days] if nobody cleaned ahead. truth: see truth.py.
    """

    tables: dict[str, pd.DataFrame]
    latent_modules: pd.DataFrame = field(repr=False)
    latent_cleans: pd.DataFrame = field(repr=False)
    truth: dict = field(repr=False)

    @property
    def jobs(self) -> pd.DataFrame:
        return self.tables["jobs"]

    @property
    def units(self) -> pd.DataFrame:
        return self.tables["units"]

    @property
    def usage_readings(self) -> pd.DataFrame:
        return self.tables["usage_readings"]


def make(jobs: int, seed: int, *, easy: bool = False) -> Fleet:
    """Simulate a fleet of about `jobs` jobs; the same `seed` gives the same fleet. Raises ValueError under 200 jobs."""
    if jobs < 200:
        raise ValueError(f"{jobs} jobs make no fleet: ask for 200 or more")
    world = EASY if easy else World()
    rng = np.random.default_rng([seed, int(easy)])
    arcade_units = round(jobs * (1 - world.bench_share) / JOBS_PER_UNIT[easy])
    arcades = Arcades(rng, world, draw_register(rng, world, arcade_units))
    arcades.run()
    bench = None
    if not easy:
        bench = Bench(rng, world, draw_lots(rng, world, jobs * world.bench_share))
        bench.run()
    seats = draw_seats(rng, arcades)
    jobs_table = canonical.jobs(rng, world, arcades, bench, seats)
    tables = {"jobs": jobs_table} | companions.all_tables(rng, arcades, bench, seats, jobs_table)
    modules, cleans, tries = (_latent(one.joined()) for one in (arcades.modules, arcades.cleans, arcades.tries))
    return Fleet(tables, modules, cleans, truth.stated(world, cleans=cleans, tries=tries))


def _latent(columns: dict[str, np.ndarray]) -> pd.DataFrame:
    frame = pd.DataFrame(columns)
    frame["family"] = np.array([f.name for f in FAMILIES], object)[frame["family"]]
    return frame
