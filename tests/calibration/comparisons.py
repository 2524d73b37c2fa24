"""Parts of the table on comparisons, repeated failures and clocks."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
import pandas as pd

from pipelines.estimates import lifelines_start
from pipelines.estimates.clock_choice import clock_choice
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.mean_cumulative import mean_cumulative
from pipelines.estimates.regression import hazard_ratios, life_ratios
from pipelines.estimates.regression_task import Regression
from pipelines.estimates.trend import TrendVerdict, trend
from tests.calibration.fleets import SCALE, SHAPE, fleet_of, spells, spells_each, stable_factors, units
from tests.calibration.score import Kind, Sample

REFUSED = Estimate(None, None, None)
#: True hazard ratios of the levels of a factor.
RATIOS = {"a": 1.0, "b": 1.5, "c": 2.0}


#: The index of the positive stable factor of a controller, which leaves hazards proportional and lives Weibull.
STABLE = 0.8


def compared(rng: np.random.Generator, failures: int, *, is_shared: bool = False, site_stretch: float = 1.0) -> pd.DataFrame:
    """Return one fleet's spells by `level`, `site` and `cluster`; a second site's lives are longer by `site_stretch`."""
    number = spells_each(failures)
    cluster = np.arange(number) // 2 if is_shared else np.arange(number)
    level = rng.choice(list(RATIOS), cluster[-1] + 1)[cluster]
    is_second = rng.random(number) < pd.Series(level).map({"a": 0.3, "b": 0.5, "c": 0.7}).to_numpy()
    hazard = pd.Series(level).map(RATIOS).to_numpy()
    if is_shared:
        hazard = stable_factors(rng, cluster[-1] + 1, STABLE)[cluster] * hazard ** (1 / STABLE)
    shape = SHAPE / STABLE if is_shared else SHAPE
    life = SCALE * (rng.exponential(1, number) / hazard) ** (1 / shape) * np.where(is_second, site_stretch, 1.0)
    rows = spells(rng, 1, failures, life)
    return rows.assign(level=level[rows.index], site=is_second[rows.index], cluster=cluster[rows.index])


def ratios(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Hazard and life ratios of three levels: of independent spells, in strata of sites, and by controller of two sticks.

    Climbed from zero, as the largest tables are: the same tops in a tenth of the time that lifelines' start takes.
    """
    with patch.object(lifelines_start, "ROWS_AT_MOST", 0):
        return _ratios(rng, failures, fleets)


def _ratios(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    levels: dict[str, list[tuple[int, float, Estimate]]] = {}
    shapes = []
    for fleet in range(fleets):
        plain, shared = compared(rng, failures), compared(rng, failures, is_shared=True)
        by_life = life_ratios(plain, factors=["level"])
        fits = {
            "hazard ratio": (1.0, hazard_ratios(plain, factors=["level"])),
            "hazard ratio, sites as strata": (
                1.0, hazard_ratios(compared(rng, failures, site_stretch=1.5), factors=["level"], strata=["site"]),
            ),
            "hazard ratio by controller": (1.0, hazard_ratios(shared, factors=["level"], cluster="cluster")),
            "life ratio": (-1 / SHAPE, by_life),
            "life ratio by controller": (-1 / SHAPE, life_ratios(shared, factors=["level"], cluster="cluster")),
        }  # fmt: skip
        shapes.append(by_life.shape or REFUSED)
        for name, (power, fit) in fits.items():
            levels.setdefault(name, []).extend((fleet, true**power, ratio) for true, ratio in told(fit))
    found = {name: Sample.of([one[2] for one in rows], [one[1] for one in rows], fleet=[one[0] for one in rows])
             for name, rows in levels.items()}  # fmt: skip
    return found | {"life ratios: shape": Sample.of(shapes, SHAPE)}


def told(fit: Regression) -> list[tuple[float, Estimate]]:
    """Return the true hazard ratio and the estimate of both comparisons; a pooled level says nothing of its own."""
    (reference,) = [one.level for one in fit.ratios if one.is_reference] or [None]
    others = [one for one in fit.ratios if one.level in RATIOS and not one.is_reference and reference in RATIOS]
    found = [(RATIOS[one.level] / RATIOS[reference], one.ratio) for one in others]
    return found + [(1.0, REFUSED)] * (len(RATIOS) - 1 - len(found))


def repeated(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """The mean number of failures of units that differ (gamma factor of variance 0.5), by an age of 500 days."""
    events, watched = units(rng, fleets, failures, shape=1.5, spread=0.5)
    shares, truths = [], []
    for one in mean_cumulative(events, watched, by=["fleet"]):
        curve = one.curve[one.curve["at"] <= 500]
        row = curve.iloc[-1] if len(curve) else None
        is_told = row is not None and row["is_drawn"] and np.isfinite(row["low"])
        shares.append(Estimate(*(float(row[name]) for name in ("mean_count", "low", "high"))) if is_told else REFUSED)
        truths.append((500 / 400) ** 1.5 - (one.counted_from / 400) ** 1.5)
    return {"mean failures by 500 days": Sample.of(shares, truths)}


def trends(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """The shape of a power law of units that are alike, and how often no trend is shown where units differ and there is none."""
    shapes = [one.shape for one in trend(*units(rng, fleets, failures, shape=1.5), by=["fleet"])]
    still = trend(*units(rng, fleets, failures, shape=1.0, spread=0.5), by=["fleet"])
    # "No trend shown" stands for limits that hold 0.
    shown = [Estimate(0.0, *((-1.0, 1.0) if one.verdict is TrendVerdict.NO_TREND_SHOWN else (1.0, 1.0)))
             if one.because is None else REFUSED for one in still]  # fmt: skip
    return {
        "trend: shape": Sample.of(shapes, 1.5),
        "trend: none is shown where there is none": Sample.of(shown, 0.0, Kind.PLAIN),
    }


def clocks(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """The power of the hours a day with which life in days goes, if sticks age by hours (−1) or by both (−0.5)."""
    found = {}
    for coefficient in (-1.0, -0.5):
        fleet = fleet_of(fleets, spells_each(failures))
        usage = np.exp(0.6 * rng.standard_normal(len(fleet)))
        rows = spells(rng, fleets, failures, SCALE * usage**coefficient * rng.weibull(SHAPE, len(fleet)))
        fits = clock_choice(rows.assign(hours_per_day=usage[rows.index]), by=["fleet"])
        found[f"clock coefficient {coefficient}"] = Sample.of([fit.coefficient for fit in fits], coefficient, Kind.PLAIN)
    return found
