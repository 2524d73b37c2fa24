"""Parts of the table on sticks that share something: a controller, a site, a family that lends to others."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.estimates.clustered import clustered_life, clustered_proportion, clustered_survival
from pipelines.estimates.clustered_weibull import clustered_weibull
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.frailty import frailty
from pipelines.estimates.pooled_life import pooled_life
from pipelines.estimates.survival import quantile, survival
from tests.calibration.fleets import (
    SCALE,
    SHAPE,
    clustered_spells,
    fleet_of,
    gamma_factors,
    life_of,
    paired_spells,
    spells,
    spells_each,
    stable_factors,
    surviving,
)
from tests.calibration.score import Kind, Rule, Sample

#: Controllers of two sticks differ by a stable factor of this index (SD of its log 0.8), eight sites by a gamma factor.
CONTROLLER_INDEX, SITE_VARIANCE, SITES = 0.85, 0.1, 8
#: A stable factor of a site whose log has the SD of the gamma one, but a rare site is worse than all others by far.
RARE_SITE_INDEX = 0.97
AGE = 700


def by_controller(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Curve and Weibull fit with limits by controller, two sticks each."""
    factor = stable_factors(rng, (fleets, max(spells_each(failures) // 2, 3)), CONTROLLER_INDEX)
    return clustered("by controller", clustered_spells(rng, factor, failures, shape=SHAPE / CONTROLLER_INDEX))


def by_site(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """The same with limits by site, eight of them; what limits without clusters would cover, and what a rare bad site costs."""
    rows = clustered_spells(rng, gamma_factors(rng, (fleets, SITES), SITE_VARIANCE), failures)
    rare = clustered_spells(rng, stable_factors(rng, (fleets, SITES), RARE_SITE_INDEX), failures, shape=SHAPE / RARE_SITE_INDEX)
    plain = [quantile(one, share=0.5) for _, one in survival(rows, by=["fleet"]).groupby("fleet")]
    shown = [one.life for one in clustered_life(rare, by=["fleet"], share=0.5)]
    return clustered("by site", rows, SITE_VARIANCE) | {
        "sites ignored: curve median": Sample.of(plain, life_of(0.5, SITE_VARIANCE), rule=Rule.SHOWN),
        "by site, a rare one far worse: curve median": Sample.of(shown, life_of(0.5), rule=Rule.SHOWN),
    }


def clustered(name: str, rows: pd.DataFrame, variance: float = 0.0) -> dict[str, Sample]:
    share = [one.share for one in clustered_survival(rows, by=["fleet"], at_times=[AGE])]
    lives = {part: [one.life for one in clustered_life(rows, by=["fleet"], share=part)] for part in (0.1, 0.5)}
    fits = clustered_weibull(rows, by=["fleet"])
    b10, median = life_of(0.1, variance), life_of(0.5, variance)
    return {
        f"{name}: curve at {AGE} h": Sample.of(share, surviving(AGE, variance), Kind.SHARE),
        f"{name}: curve B10": Sample.of(lives[0.1], b10),
        f"{name}: curve median": Sample.of(lives[0.5], median),
        f"{name}: Weibull B10": Sample.of([fit.b10 for fit in fits], b10),
        f"{name}: Weibull median": Sample.of([fit.median for fit in fits], median),
    }


def proportion_by_site(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """The share of cleans that passed, at sites whose own shares differ (beta with mean 0.7, SD 0.15)."""
    each = max(round(failures / 0.3 / SITES), 3)
    rows = pd.DataFrame({"fleet": fleet_of(fleets, SITES * each), "cluster": fleet_of(fleets * SITES, each)})
    chance = rng.beta(5.8, 2.5, fleets * SITES)[rows["cluster"]]
    rows = rows.assign(is_passed=rng.random(len(rows)) < chance, attempt_count=1)
    shares = [one.share for one in clustered_proportion(rows, by=["fleet"])]
    return {"by site: share passed": Sample.of(shares, 5.8 / 8.3, Kind.SHARE)}


def shared_factor(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Weibull lives with a gamma factor shared by the two sticks of a controller, and with none to find."""
    found = {}
    for variance in (0.5, 0.0):
        fits = frailty(paired_spells(rng, fleets, failures, variance=variance), by=["fleet"])
        # At a variance of 0 the lower limit cannot miss: half of the error is gone.
        rule = Rule.EXACT if variance else Rule.AT_LEAST
        name = f"shared factor, variance {variance}"
        found |= {
            f"{name}: shape": Sample.of([fit.shape for fit in fits], SHAPE, rule=rule),
            f"{name}: scale": Sample.of([fit.scale for fit in fits], SCALE, rule=rule),
            f"{name}: variance": Sample.of([fit.variance for fit in fits], variance, Kind.PLAIN, rule),
        }
    return found


def families(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """B10 and median of twelve families that lend to each other, log scales with SD 0.2, sizes far apart."""
    estimates: dict[str, list[Estimate]] = {"B10": [], "median": [], "shape": []}
    truths: dict[str, list[float]] = {"B10": [], "median": []}
    owner = []
    for fleet in range(fleets):
        family = rng.choice(12, spells_each(failures), p=rng.dirichlet(np.ones(12)))
        stretch = np.exp(0.2 * rng.standard_normal(12))
        rows = spells(rng, 1, failures, stretch[family] * SCALE * rng.weibull(SHAPE, len(family)))
        pooled = pooled_life(rows.assign(family=family[rows.index]), by=["family"])
        estimates["shape"].append(pooled.shape)
        for one in pooled.families:
            for name, life, share in (("B10", one.b10, 0.1), ("median", one.median, 0.5)):
                estimates[name].append(life)
                truths[name].append(stretch[one.by[0]] * life_of(share))
            owner.append(fleet)
    found = {f"families {name}": Sample.of(estimates[name], truths[name], fleet=owner) for name in truths}
    return found | {"families shape": Sample.of(estimates["shape"], SHAPE)}
