"""The arcade units: who they are, how they are used, when they come and go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from example_data.scenario import FAMILIES, HOURS_PER_WEEK, LAST_DAY, USAGE_SHARES, World

#: Stands for "never" among days.
LEFT_OUT = 1e9
STICK_COUNT = np.array([2 if f.sticks == "L+R" else 1 for f in FAMILIES])


@dataclass
class Register:
    """One row per arcade unit: who it is and what it is like. Only `out_day` changes: scrap ends a unit early."""

    site: np.ndarray
    family: np.ndarray
    stick_count: np.ndarray
    usage: np.ndarray
    hours_per_day: np.ndarray
    start_day: np.ndarray
    out_day: np.ndarray
    frailty: np.ndarray
    dust: np.ndarray
    start_h: np.ndarray
    origin: np.ndarray

    @property
    def count(self) -> int:
        return len(self.site)


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
        site, family, STICK_COUNT[family], usage,
        HOURS_PER_WEEK[usage] * rng.lognormal(0, 0.2, n) / 7, start,
        np.where(leaves > LAST_DAY, int(LEFT_OUT), leaves).astype(int), frailty, dust,
        np.where(origin > 0, rng.uniform(60, 700, n).round(1), 0.0), origin,
    )  # fmt: skip
