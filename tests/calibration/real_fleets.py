"""Fleets as repair shops have them: differing sites, families and controllers, wrong findings, unknown ages, noisy hours.

What holds for all: eight sites with a gamma factor of variance 0.1, controllers of two sticks with one of variance 0.3, lives
that differ by family with a log SD of 0.2; 10 to 15 % of the failures are none, and one in ten is found late.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from tests.calibration.fleets import SCALE, entries, gamma_factors, spells_each, watched_lives

SHAPE = 2.5
SITES, FAMILIES = 8, 6
SITE_VARIANCE, CONTROLLER_VARIANCE, FAMILY_LOG_SD = 0.1, 0.3, 0.2
#: Wrong findings strike at this rate an hour, whatever the age; missed failures are found so many hours later on average.
FALSE_RATE, MISSED_SHARE, MISSED_FOR = 0.12 / 0.88 / 950, 0.1, 150
#: Of this share the age is unknown; they stand apart from the curves.
UNKNOWN_SHARE = 0.4


def found_at(rng: np.random.Generator, life: np.ndarray, *, scale: float = 1.0) -> np.ndarray:
    """Return when the bench says that the stick is bad: some are found late, some were never bad."""
    late = life + (rng.random(len(life)) < MISSED_SHARE) * rng.exponential(MISSED_FOR * scale, len(life))
    return np.minimum(late, rng.exponential(scale / FALSE_RATE, len(life)))


def sticks(fleets: int, failures: int) -> int:
    """Return how many sticks there are in the fleets, those of unknown age among them."""
    return 2 * fleets * round(spells_each(failures) / (1 - UNKNOWN_SHARE) / 2)


def real_spells(
    rng: np.random.Generator, fleets: int, failures: int, *, stretch: np.ndarray | float = 1.0
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the spells by `fleet`, `site`, `cluster` (the controller) and `family`, and lives' stretch by fleet and family.

    stretch: of single lives, one for each of the `sticks`; the index of the spells is their place there.
    """
    number = sticks(fleets, failures)
    controllers = number // fleets // 2
    cluster = np.arange(number) // 2
    fleet = cluster // controllers
    site = fleet * SITES + rng.integers(0, SITES, controllers * fleets)[cluster]
    family = rng.integers(0, FAMILIES, controllers * fleets)[cluster]
    by_family = np.exp(FAMILY_LOG_SD * rng.standard_normal((fleets, FAMILIES)))
    factor = gamma_factors(rng, SITES * fleets, SITE_VARIANCE)[site]
    factor = factor * gamma_factors(rng, controllers * fleets, CONTROLLER_VARIANCE)[cluster]
    life = SCALE * (rng.exponential(1, number) / factor) ** (1 / SHAPE) * by_family[fleet, family] * stretch
    rows = watched_lives(rng, found_at(rng, life), entries(rng, number))
    rows = rows.assign(fleet=fleet, site=site, cluster=cluster, family=family)
    kept = rows["is_seen"] & (rng.random(number) >= UNKNOWN_SHARE) & (np.ceil(life) > rows["entry"])
    return rows[kept], pd.DataFrame(by_family)


@cache
def _population(is_one_family: bool) -> np.ndarray:
    """Return the factors of hazard in the population of all sites, controllers and families, by a fixed draw."""
    rng = np.random.default_rng(1)
    number = 400_000
    factor = gamma_factors(rng, number, SITE_VARIANCE) * gamma_factors(rng, number, CONTROLLER_VARIANCE)
    return factor if is_one_family else factor * np.exp(-SHAPE * FAMILY_LOG_SD * rng.standard_normal(number))


def true_surviving(age: float) -> float:
    return float(np.exp(-_population(False) * (age / SCALE) ** SHAPE).mean())


@cache
def true_life(share: float, *, is_one_family: bool = False) -> float:
    """Return the age by which a share of the population failed; of a family with a stretch of 1 where so asked."""
    from scipy.optimize import brentq

    factor = _population(is_one_family)
    return float(brentq(lambda age: np.exp(-factor * (age / SCALE) ** SHAPE).mean() - 1 + share, 1, 20 * SCALE))


def real_gaps(
    rng: np.random.Generator, controllers: int, *, kept: tuple[float, ...], horizon: float
) -> tuple[pd.DataFrame, list]:
    """Return gaps as `restoration` takes them, and of each depth the true share of its cleans that hold to the horizon.

    Lives of shape 2.5 and scale 500; a clean at depth "a", "b", … leaves that share of the whole age.
    """
    site_factor = gamma_factors(rng, SITES, SITE_VARIANCE)
    rows, holds = [], [[] for _ in kept]
    scale = 500.0
    for controller in range(controllers):
        factor = site_factor[rng.integers(SITES)] * gamma_factors(rng, 1, CONTROLLER_VARIANCE)[0]
        stretch = np.exp(FAMILY_LOG_SD * rng.standard_normal()) * scale
        for stick in range(2):
            age, now, stop, choice = 0.0, 0.0, 1500 * rng.uniform(0.5, 1.5), None
            for number in range(1, 500):
                failed = stretch * ((age / stretch) ** SHAPE + rng.exponential() / factor) ** (1 / SHAPE) - age
                gap = float(found_at(rng, np.array([failed]), scale=0.4)[0])
                if choice is not None:
                    hazard = ((age + horizon) / stretch) ** SHAPE - (age / stretch) ** SHAPE
                    holds[choice].append(np.exp(-factor * hazard))
                is_failure = now + gap <= stop
                upto = gap if is_failure else stop - now
                depth = None if choice is None else "abcdef"[choice]
                rows.append((2 * controller + stick, number, controller, depth, 0.0, upto, upto if is_failure else np.inf))
                if not is_failure:
                    break
                choice = int(rng.integers(len(kept)))
                age, now = kept[choice] * (age + gap), now + gap
    columns = ["module", "gap_number", "cluster", "depth", "entry", "lower", "upper"]
    return pd.DataFrame(rows, columns=columns), [float(np.mean(one)) if one else np.nan for one in holds]
