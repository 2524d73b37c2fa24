"""The second table: what the limits hold where the log is as logs are (see `real_fleets`).

The truth is that of the population: of all sites and controllers, without wrong findings. Of a shape, a factor or a ratio it
is that of a single stick.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.estimates.clock_choice import clock_choice
from pipelines.estimates.clustered import clustered_life, clustered_proportion, clustered_survival
from pipelines.estimates.clustered_weibull import clustered_weibull
from pipelines.estimates.competing import cumulative_incidence
from pipelines.estimates.durable import durable
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.frailty import frailty
from pipelines.estimates.mean_cumulative import mean_cumulative
from pipelines.estimates.pooled_life import pooled_life
from pipelines.estimates.regression import hazard_ratios
from pipelines.estimates.restoration import restoration
from pipelines.estimates.standardised import standardised
from pipelines.estimates.survival import quantile, survival
from pipelines.estimates.trend import trend
from pipelines.estimates.weibull import weibull
from tests.calibration import real_fleets as real
from tests.calibration.cleaning import FAILURES_PER_CONTROLLER, HORIZON, KEPT
from tests.calibration.fleets import fleet_of, units
from tests.calibration.lives import row_at
from tests.calibration.score import Kind, Rule, Sample

AGE = 700


def _share(estimates: list[Estimate], truth) -> Sample:
    return Sample.of(estimates, truth, Kind.SHARE, Rule.REAL)


def _ratio(estimates: list[Estimate], truth, fleet=None) -> Sample:
    return Sample.of(estimates, truth, Kind.RATIO, Rule.REAL, fleet)


def lives(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Curves and Weibull fits, plain and by controller and by site."""
    rows, _ = real.real_spells(rng, fleets, failures)
    curves = [one for _, one in survival(rows, by=["fleet"]).groupby("fleet")]
    fits = weibull(rows, by=["fleet"])
    b10, median = real.true_life(0.1), real.true_life(0.5)
    found = {
        f"curve at {AGE} h": _share([row_at(one, AGE) for one in curves], real.true_surviving(AGE)),
        "curve B10": _ratio([quantile(one, share=0.1) for one in curves], b10),
        "curve median": _ratio([quantile(one, share=0.5) for one in curves], median),
        "Weibull B10": _ratio([fit.b10 for fit in fits], b10),
        "Weibull median": _ratio([fit.median for fit in fits], median),
        "Weibull shape": _ratio([fit.shape for fit in fits], real.SHAPE),
    }
    for name, column in (("controller", "cluster"), ("site", "site")):
        by = rows.drop(columns="cluster").assign(cluster=rows[column])
        shares = [one.share for one in clustered_survival(by, by=["fleet"], at_times=[AGE])]
        found[f"by {name}: curve at {AGE} h"] = _share(shares, real.true_surviving(AGE))
        for part, name_of, truth in ((0.1, "B10", b10), (0.5, "median", median)):
            given = [one.life for one in clustered_life(by, by=["fleet"], share=part)]
            found[f"by {name}: curve {name_of}"] = _ratio(given, truth)
        by_cluster = clustered_weibull(by, by=["fleet"])
        found[f"by {name}: Weibull B10"] = _ratio([fit.b10 for fit in by_cluster], b10)
        found[f"by {name}: Weibull median"] = _ratio([fit.median for fit in by_cluster], median)
    return found


def shared_factor(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """The fit with a factor of each controller."""
    fits = frailty(real.real_spells(rng, fleets, failures)[0], by=["fleet"])
    return {
        "shared factor: shape": _ratio([fit.shape for fit in fits], real.SHAPE),
        "shared factor: variance": Sample.of([fit.variance for fit in fits], real.CONTROLLER_VARIANCE, Kind.PLAIN, Rule.REAL),
    }


def families(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Families that lend to each other: B10 and median of each."""
    estimates, truths, owner = {"B10": [], "median": []}, {"B10": [], "median": []}, []
    rows, stretch = real.real_spells(rng, fleets, failures)
    for fleet, mine in rows.groupby("fleet"):
        for one in pooled_life(mine, by=["family"]).families:
            for name, life, share in (("B10", one.b10, 0.1), ("median", one.median, 0.5)):
                estimates[name].append(life)
                truths[name].append(stretch.loc[fleet, one.by[0]] * real.true_life(share, is_one_family=True))
            owner.append(fleet)
    return {f"families {name}": _ratio(estimates[name], truths[name], owner) for name in truths}


def comparisons(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """A level that doubles the hazard, in strata of sites with limits by controller; hours a day known to within 30 %."""
    number = real.sticks(fleets, failures)
    is_hard = rng.random(number) < 0.5
    rows, _ = real.real_spells(rng, fleets, failures, stretch=np.where(is_hard, 2 ** (-1 / real.SHAPE), 1.0))
    rows = rows.assign(level=np.where(is_hard[rows.index], "hard", "easy"))
    found = []
    for _, mine in rows.groupby("fleet"):
        fit = hazard_ratios(mine, factors=["level"], strata=["site"], cluster="cluster")
        (one,) = [one for one in fit.ratios if one.level == "hard"] or [None]
        if one is None or one.is_reference:
            # The larger level is the reference: turn the ratio of the other round.
            other = next((level.ratio for level in fit.ratios if level.level == "easy"), Estimate(None, None, None))
            turned = [None if value is None else 1 / value for value in (other.estimate, other.high, other.low)]
            found.append(Estimate(*turned))
        else:
            found.append(one.ratio)
    usage = np.exp(0.6 * rng.standard_normal(number))
    rows, _ = real.real_spells(rng, fleets, failures, stretch=1 / usage)
    noted = usage[rows.index] * np.exp(0.3 * rng.standard_normal(len(rows)))
    clocks = clock_choice(rows.assign(hours_per_day=noted), by=["fleet"])
    coefficient = Sample.of([fit.coefficient for fit in clocks], -1.0, Kind.PLAIN, Rule.REAL)
    return {"hazard ratio, sites as strata, by controller": _ratio(found, 2.0), "clock coefficient −1": coefficient}


def mechanisms(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Cumulative incidence of the mechanism of seven failures in ten, every tenth sorted wrongly."""
    rows, _ = real.real_spells(rng, fleets, failures)
    is_wear = (rng.random(len(rows)) < 0.7) ^ (rng.random(len(rows)) < 0.1)
    rows = rows.assign(mechanism=np.where(rows["is_failure"], np.where(is_wear, "wear", "other"), None))
    curves = cumulative_incidence(rows, by=["fleet"])
    curves = curves[curves["mechanism"] == "wear"].rename(columns={"failed_share": "surviving_share"})
    shares = [row_at(one, AGE) for _, one in curves.groupby("fleet")]
    return {f"incidence at {AGE} h": _share(shares, 0.7 * (1 - real.true_surviving(AGE)))}


def repeated(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Mean failures of units that differ, and the shape of their trend; one reported failure in nine is none."""
    events, watched = units(rng, fleets, failures, shape=1.5, spread=0.4)
    exits, starts = watched["exit"].to_numpy(), watched["entry"].to_numpy()
    false_count = rng.poisson(0.14 * 1.2 / 500 * (exits - starts))
    unit = np.repeat(watched["unit"].to_numpy(), false_count)
    at = exits[unit] - rng.random(len(unit)) * (exits - starts)[unit]
    false = pd.DataFrame({"fleet": watched["fleet"].to_numpy()[unit], "unit": unit, "at": at})
    seen = pd.concat([events[rng.random(len(events)) >= real.MISSED_SHARE], false], ignore_index=True)
    shares, truths = [], []
    for one in mean_cumulative(seen, watched, by=["fleet"]):
        curve = one.curve[(one.curve["at"] <= 500) & one.curve["is_drawn"] & one.curve["low"].notna()]
        row = [float(curve.iloc[-1][name]) for name in ("mean_count", "low", "high")] if len(curve) else [None] * 3
        shares.append(Estimate(*row))
        truths.append((500 / 400) ** 1.5 - (one.counted_from / 400) ** 1.5)
    shapes = [one.shape for one in trend(seen, watched, by=["fleet"])]
    return {"mean failures by 500 days": _ratio(shares, truths), "trend: shape": _ratio(shapes, 1.5)}


def shares(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Shares passed and held where one clean in twenty is judged wrongly and sites differ; severity read with an error."""
    each = round(failures / 0.5)
    fleet = fleet_of(fleets, each)
    site = fleet * real.SITES + rng.integers(0, real.SITES, len(fleet))
    chance = rng.beta(5.8, 2.5, fleets * real.SITES)[site]
    is_good = rng.random(len(fleet)) < chance
    is_passed = is_good ^ (rng.random(len(fleet)) < 0.05)
    # What was passed wrongly comes back at once, so that it shows at the next visit.
    true_life = np.where(is_good, np.ceil(200 * rng.weibull(1.3, len(fleet))), rng.integers(1, 60, len(fleet)))
    life, last = np.ceil(found_days(rng, true_life)), rng.integers(0, 250, len(fleet))
    rows = pd.DataFrame({"fleet": fleet, "cluster": site, "is_passed": is_passed, "at": np.minimum(life, last)})
    rows = rows.assign(is_failure=life <= last, attempt_count=1)
    held = [Estimate(one.share, one.low, one.high) for one in durable(rows, by=["fleet"], horizon=90)]
    by_site = clustered_survival(
        rows.assign(entry=0.0, at=np.where(is_passed, rows["at"], 0) + 1.0, is_failure=~is_passed | rows["is_failure"])
        .rename(columns={"attempt_count": "spell_count"}), by=["fleet"], at_times=[91.0],
    )  # fmt: skip
    passed = [one.share for one in clustered_proportion(rows, by=["fleet"])]
    truth = 5.8 / 8.3 * np.exp(-((90 / 200) ** 1.3))
    return {
        "by site: share passed": _share(passed, 5.8 / 8.3),
        "held 90 days": _share(held, truth),
        "by site: held 90 days": _share([one.share for one in by_site], truth),
        "standardised share": _standardised(rng, failures, fleets),
    }


def found_days(rng: np.random.Generator, life: np.ndarray) -> np.ndarray:
    return real.found_at(rng, life, scale=0.2)


def _standardised(rng: np.random.Generator, failures: int, fleets: int) -> Sample:
    each = round(failures / 0.4)
    fleet, severity = fleet_of(fleets, each), rng.standard_normal(fleets * each)
    chance = 1 / (1 + np.exp(-(0.4 - 1.5 * severity)))
    is_tried = rng.random(len(fleet)) < 1 / (1 + np.exp(-(1.2 - 2.0 * severity)))
    is_passed = (rng.random(len(fleet)) < chance) ^ (rng.random(len(fleet)) < 0.05)
    band = np.searchsorted([-1.2, -0.6, 0, 0.6, 1.2], severity + 0.2 * rng.standard_normal(len(fleet)))
    rows = pd.DataFrame({"fleet": fleet, "band": band, "is_tried": is_tried, "is_passed": is_tried & is_passed})
    counts = rows.value_counts().rename("failure_count").reset_index()
    draws = np.random.default_rng(2).standard_normal(400_000)
    truth = float((1 / (1 + np.exp(-(0.4 - 1.5 * draws)))).mean())
    return _share([one.standardised for one in standardised(counts, by=["fleet"], band="band")], truth)


def cleans(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """What cleans give back and how long they hold."""
    restored, held, truths, shapes = ({depth: [] for depth in KEPT} for _ in range(4))
    for _ in range(fleets):
        gaps, true = real.real_gaps(rng, max(failures // FAILURES_PER_CONTROLLER, 2), kept=tuple(KEPT.values()), horizon=HORIZON)
        (fit,) = restoration(gaps, by=[], horizon=HORIZON)
        shapes["a"].append(fit.shape)
        for effect in fit.effects:
            restored[effect.depth].append(effect.restoration_share)
            held[effect.depth].append(effect.holding_share)
            truths[effect.depth].append(true[list(KEPT).index(effect.depth)])
    found = {"drift against age: shape": _ratio(shapes["a"], real.SHAPE)}
    for depth, kept in KEPT.items():
        found[f"restoration, {1 - kept:.1f} given back"] = _share(restored[depth], 1 - kept)
        found[f"cleans that hold {HORIZON:.0f} h, {1 - kept:.1f} given back"] = _share(held[depth], truths[depth])
    return found


#: Each part, and the share of the fleets asked for that it takes.
PARTS = {
    "lives": (lives, 0.5),
    "shared_factor": (shared_factor, 0.1),
    "families": (families, 0.15),
    "comparisons": (comparisons, 0.15),
    "mechanisms": (mechanisms, 0.5),
    "repeated": (repeated, 0.5),
    "shares": (shares, 0.5),
    "cleans": (cleans, 0.1),
}
