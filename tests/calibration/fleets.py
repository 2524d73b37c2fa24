"""Fleets of known truth, many at once, as the frames that the estimates take. All times are whole hours.

A life is rounded up, and entries and ends are whole: so a share at a whole hour is exactly that of the law it was drawn from.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

SHAPE, SCALE = 2.0, 1000.0
#: Spells made for each failure asked for; about three in five fail while they are watched.
SPELLS_PER_FAILURE = 1.75


def spells_each(failures: int) -> int:
    return round(failures * SPELLS_PER_FAILURE)


def fleet_of(fleets: int, each: int) -> np.ndarray:
    return np.repeat(np.arange(fleets), each)


def entries(rng: np.random.Generator, number: int, *, late_share: float = 0.3, every: int = 1) -> np.ndarray:
    """Return ages at entry: a share of them late, by up to 0.6 of the scale, at a multiple of `every`."""
    return np.where(rng.random(number) < late_share, rng.integers(1, int(0.6 * SCALE), number) // every * every, 0)


def watched_lives(rng: np.random.Generator, life: np.ndarray, entry: np.ndarray, *, every: int = 1) -> pd.DataFrame:
    """Return `entry`, `at`, `is_failure`, `lower`, `upper`, `spell_count` for every life, and `is_seen`: well at its entry.

    The index is the place in `life`. The spells are followed for 0.2 to 2 scales, to a multiple of `every`.
    """
    last = entry + rng.integers(int(0.2 * SCALE), int(2 * SCALE), len(life)) // every * every
    whole = np.maximum(np.ceil(life), 1.0)
    at, is_failure = np.minimum(whole, last), whole <= last
    rows = pd.DataFrame({"entry": entry.astype(float), "at": at, "is_failure": is_failure})
    rows["lower"], rows["upper"] = at, np.where(is_failure, at, np.inf)
    return rows.assign(spell_count=1, is_seen=whole > entry)


def spells(
    rng: np.random.Generator, fleets: int, failures: int, life: np.ndarray | None = None, *, every: int = 1
) -> pd.DataFrame:
    """Return spells by `fleet`, `spells_each(failures)` of them in each: Weibull unless lives are given.

    every: watching begins and ends at a multiple of it, at a visit.
    """
    fleet = fleet_of(fleets, spells_each(failures))
    if life is None:
        life = SCALE * rng.weibull(SHAPE, len(fleet))
    rows = watched_lives(rng, life, entries(rng, len(life), every=every), every=every).assign(fleet=fleet)
    return rows[rows["is_seen"]]


def visited(rows: pd.DataFrame, *, every: int) -> pd.DataFrame:
    """Return the spells as visits at the multiples of `every` find them: failures between two visits."""
    after = np.ceil(rows["at"] / every) * every
    before = np.where(rows["is_failure"], np.maximum(after - every, rows["entry"]), rows["at"])
    return rows.assign(lower=before, upper=np.where(rows["is_failure"], after, np.inf))


def gamma_factors(rng: np.random.Generator, number: int | tuple[int, int], variance: float) -> np.ndarray:
    return rng.gamma(1 / variance, variance, number) if variance else np.ones(number)


def stable_factors(rng: np.random.Generator, number: int | tuple[int, int], index: float) -> np.ndarray:
    """Return positive factors z with E exp(−s·z) = exp(−s^index).   Source: Chambers, Mallows & Stuck (1976), from memory."""
    u, w = rng.uniform(0, np.pi, number), rng.exponential(1, number)
    return np.sin(index * u) / np.sin(u) ** (1 / index) * (np.sin((1 - index) * u) / w) ** ((1 - index) / index)


def clustered_spells(rng: np.random.Generator, factor: np.ndarray, failures: int, *, shape: float = SHAPE) -> pd.DataFrame:
    """Return Weibull spells by `fleet` and `cluster`; factor: that of each cluster's hazard, (fleets, clusters).

    With stable factors of an index and the shape over that index, all spells together are Weibull of that shape.
    """
    clusters = factor.shape[1]
    cluster = np.repeat(np.arange(factor.size), max(round(spells_each(failures) / clusters), 2))
    life = SCALE * (rng.exponential(1, len(cluster)) / factor.ravel()[cluster]) ** (1 / shape)
    rows = watched_lives(rng, life, entries(rng, len(cluster))).assign(fleet=cluster // clusters, cluster=cluster)
    return rows[rows["is_seen"]]


def paired_spells(rng: np.random.Generator, fleets: int, failures: int, *, variance: float) -> pd.DataFrame:
    """Return Weibull spells by `fleet` and `cluster`, two sticks each, whose hazards share a gamma factor.

    A cluster enters at one age and is seen if both sticks were well then, which the frailty fit takes for given.
    """
    clusters = max(spells_each(failures) // 2, 3)
    cluster = np.repeat(np.arange(fleets * clusters), 2)
    factor = gamma_factors(rng, fleets * clusters, variance)[cluster]
    life = SCALE * (rng.exponential(1, len(cluster)) / factor) ** (1 / SHAPE)
    entry = np.repeat(entries(rng, fleets * clusters), 2)
    rows = watched_lives(rng, life, entry).assign(fleet=cluster // clusters, cluster=cluster)
    return rows[rows.groupby("cluster")["is_seen"].transform("all")]


def surviving(age: float, variance: float = 0.0) -> float:
    """Return the share of Weibull spells still good at an age, whose hazards differ by a gamma factor of a variance."""
    hazard = (age / SCALE) ** SHAPE
    return float((1 + variance * hazard) ** (-1 / variance)) if variance else float(np.exp(-hazard))


def life_of(share: float, variance: float = 0.0) -> float:
    """Return the age by which a share of such spells failed."""
    hazard = ((1 - share) ** -variance - 1) / variance if variance else -np.log(1 - share)
    return float(SCALE * hazard ** (1 / SHAPE))


def units(
    rng: np.random.Generator, fleets: int, failures: int, *, shape: float, spread: float = 0.0
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return failures (`fleet`, `unit`, `at`) and units (`fleet`, `unit`, `entry`, `exit`), about 1.5 failures a unit, in days.

    The mean number by age t is (t / 400)^shape times a gamma factor of the unit with variance `spread`; 30 % enter late.
    """
    each = max(round(failures / 1.5), 4)
    number = fleets * each
    entry = np.where(rng.random(number) < 0.3, rng.uniform(0, 300, number), 0.0)
    exit_at = entry + rng.uniform(200, 900, number)
    begun, ended = (entry / 400) ** shape, (exit_at / 400) ** shape
    count = rng.poisson(gamma_factors(rng, number, spread) * (ended - begun))
    unit = np.repeat(np.arange(number), count)
    at = 400 * (ended[unit] - rng.random(len(unit)) * (ended - begun)[unit]) ** (1 / shape)
    at = np.clip(at, np.nextafter(entry[unit], np.inf), exit_at[unit])
    frame = pd.DataFrame({"fleet": fleet_of(fleets, each), "unit": np.arange(number), "entry": entry, "exit": exit_at})
    return pd.DataFrame({"fleet": unit // each, "unit": unit, "at": at}), frame
