"""The made fleet: draws the register, runs the arcades and the bench, and returns clean canonical tables."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from example_data import canonical, companions, truth
from example_data.arcades import LEFT_OUT, Arcades, Register
from example_data.lots import Bench, draw_lots
from example_data.seats import draw_seats
from example_data.scenario import EASY, FAMILIES, HOURS_PER_WEEK, LAST_DAY, USAGE_SHARES, World

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
    modules, cleans = _latent(arcades.modules.joined()), _latent(arcades.cleans.joined())
    return Fleet(tables, modules, cleans, truth.stated(world, cleans=cleans))


def draw_register(rng, world: World, n: int) -> Register:
    """Draw the arcade units: site, family, use, when they came and when they leave."""
    site = (rng.random(n) < 0.5).astype(int)
    weights = np.array([f.weights for f in FAMILIES], float)
    family = np.zeros(n, int)
    for number in (0, 1):
        here = site == number
        family[here] = rng.choice(len(FAMILIES), here.sum(), p=weights[:, number] / weights[:, number].sum())
    usage = rng.choice(3, n, p=USAGE_SHARES)
    start = np.where(rng.random(n) < 0.4, rng.integers(0, 45, n), rng.integers(0, LAST_DAY - 200, n))
    leaves = start + 30 + rng.exponential(365 / world.retirements_per_year, n)
    origin = rng.choice(
        4, n, p=[1 - world.used_share - world.refurbished_share - world.unknown_age_share,
                 world.used_share, world.refurbished_share, world.unknown_age_share],
    )  # fmt: skip
    frailty = np.ones(n)
    if world.frailty_variance > 0:
        frailty = rng.gamma(1 / world.frailty_variance, world.frailty_variance, n)
    snack = rng.random(n) < world.snack_seat_share
    dust = np.array(world.site_dust)[site] * np.where(snack, world.snack_seat_dust, 1.0)
    return Register(
        site, family, np.array([2 if f.sticks == "L+R" else 1 for f in FAMILIES])[family], usage,
        HOURS_PER_WEEK[usage] * rng.lognormal(0, 0.2, n) / 7, start,
        np.where(leaves > LAST_DAY, int(LEFT_OUT), leaves).astype(int), frailty, dust,
        np.where(origin > 0, rng.uniform(60, 700, n).round(1), 0.0), origin,
    )  # fmt: skip


def _latent(columns: dict[str, np.ndarray]) -> pd.DataFrame:
    frame = pd.DataFrame(columns)
    frame["family"] = np.array([f.name for f in FAMILIES], object)[frame["family"]]
    return frame
