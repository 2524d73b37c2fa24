"""Parts of the table on how long sticks last: curves and fitted laws of independent spells."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipelines.estimates.competing import cumulative_incidence
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.fixed_shape import fixed_shape
from pipelines.estimates.lognormal import lognormal
from pipelines.estimates.survival import drawn, quantile, share_at, survival
from pipelines.estimates.turnbull import turnbull
from pipelines.estimates.weibull import WeibullFit, weibull
from tests.calibration.fleets import (
    SCALE,
    SHAPE,
    life_of,
    spells,
    spells_each,
    surviving,
    visited,
)
from tests.calibration.score import Kind, Rule, Sample

AGES = (100, 300, 600, 1000)
#: By some ages fewer than so many failures are to be expected.
FEW = 5
B10, MEDIAN = life_of(0.1), life_of(0.5)
VISITS_EVERY = 200


def curve(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Kaplan–Meier with late entry: the curve where it is drawn, and the share at an age, B10 and median as answered."""
    rows_of, shares = {age: [] for age in AGES}, {age: [] for age in AGES}
    b10, median = [], []
    rows = spells(rng, fleets, failures)
    for fleet, one in survival(rows, by=["fleet"]).groupby("fleet"):
        own = rows[rows["fleet"] == fleet]
        shown = drawn(one, spell_count=len(own)).curve
        for age in AGES:
            rows_of[age].append(row_at(shown, age))
            shares[age].append(share_at(one, own, age=age)[0])
        b10.append(quantile(one, share=0.1))
        median.append(quantile(one, share=0.5))
    # until the first failure the rows of the curve have no width; what is answered has
    few = {age for age in AGES if spells_each(failures) * (1 - surviving(age)) < FEW}
    found = {
        f"{what} at {age} h": Sample.of(given[age], surviving(age), Kind.SHARE, of_few if age in few else Rule.EXACT)
        for what, given, of_few in (("curve", rows_of, Rule.SHOWN), ("share good", shares, Rule.DISCRETE)) for age in AGES
    }  # fmt: skip
    return found | {"curve B10": Sample.of(b10, B10), "curve median": Sample.of(median, MEDIAN)}


def row_at(shown: pd.DataFrame, age: float, column: str = "surviving_share") -> Estimate:
    """Return the share at an age, nothing where the curve is not drawn or has no limits."""
    place = int(np.searchsorted(shown["at"].to_numpy(), age, side="right")) - 1
    row = shown.iloc[place]
    is_over = place == len(shown) - 1 and row["at"] < age
    if not row.get("is_drawn", True) or is_over:
        return Estimate(None, None, None)
    return Estimate(*(None if np.isnan(row[name]) else float(row[name]) for name in (column, "low", "high")))


def fitted(name: str, fits: list[WeibullFit]) -> dict[str, Sample]:
    return {
        f"{name} shape": Sample.of([fit.shape for fit in fits], SHAPE),
        f"{name} scale": Sample.of([fit.scale for fit in fits], SCALE),
        f"{name} B10": Sample.of([fit.b10 for fit in fits], B10),
        f"{name} median": Sample.of([fit.median for fit in fits], MEDIAN),
        f"{name} share at 600 h": Sample.of([fit.surviving[0] for fit in fits], surviving(600), Kind.SHARE),
    }


def weibull_fits(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Weibull fits to failures that are known to the hour, and to failures found at visits 0.2 scales apart."""
    rows = spells(rng, fleets, failures)
    seen = visited(spells(rng, fleets, failures, every=VISITS_EVERY), every=VISITS_EVERY)
    return fitted("Weibull", weibull(rows, by=["fleet"], ages=[600])) | fitted(
        "Weibull by visits:", weibull(seen, by=["fleet"], ages=[600])
    )


def lognormal_fits(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Lognormal fits to lognormal lives of log SD 0.7 and median 700 h."""
    from scipy.stats import norm

    life = 700 * np.exp(0.7 * rng.standard_normal(fleets * spells_each(failures)))
    fits = lognormal(spells(rng, fleets, failures, life), by=["fleet"], ages=[600])
    return {
        "lognormal log SD": Sample.of([fit.log_sd for fit in fits], 0.7),
        "lognormal median": Sample.of([fit.median for fit in fits], 700),
        "lognormal B10": Sample.of([fit.b10 for fit in fits], 700 * np.exp(0.7 * norm.ppf(0.1))),
        "lognormal share at 600 h": Sample.of([fit.surviving[0] for fit in fits], norm.cdf(np.log(700 / 600) / 0.7), Kind.SHARE),
    }


def fixed(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Weibull lives of a shape that is assumed, the true one and 0.5 beside it."""
    fits = fixed_shape(spells(rng, fleets, failures), by=["fleet"], shape=SHAPE)
    found = {}
    for name, lives, rule in (
        ("true shape assumed", [fit.life for fit in fits], Rule.AT_LEAST),
        ("shape assumed 0.5 low", [fit.others[0] for fit in fits], Rule.SHOWN),
        ("shape assumed 0.5 high", [fit.others[1] for fit in fits], Rule.SHOWN),
    ):
        found[f"{name}: B10"] = Sample.of([life.b10 for life in lives], B10, rule=rule)
        found[f"{name}: median"] = Sample.of([life.median for life in lives], MEDIAN, rule=rule)
    return found


def turnbull_curve(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Turnbull's curve of failures found at common visits, at two of them."""
    rows = visited(spells(rng, fleets, failures, every=VISITS_EVERY), every=VISITS_EVERY)
    shares: dict[int, list[Estimate]] = {600: [], 1000: []}
    truths: dict[int, list[float]] = {600: [], 1000: []}
    for _, one in turnbull(rows, by=["fleet"]).groupby("fleet"):
        for age in shares:
            shares[age].append(row_at(one.rename(columns={"to_at": "at"}), age))
            truths[age].append(surviving(age) / surviving(one["given_at"].iloc[0]))
    return {f"Turnbull at {age} h": Sample.of(given, truths[age], Kind.SHARE) for age, given in shares.items()}


def incidence(rng: np.random.Generator, failures: int, fleets: int) -> dict[str, Sample]:
    """Cumulative incidence of the wear in lives that contamination ends too, which is as frequent."""
    number = fleets * spells_each(failures)
    wear, other = 1300 * rng.weibull(2.5, number), 1600 * rng.weibull(1.3, number)
    rows = spells(rng, fleets, failures, np.minimum(wear, other))
    cause = np.where(wear < other, "wear", "other")[rows.index]
    rows["mechanism"] = np.where(rows["is_failure"], cause, None)
    curves = cumulative_incidence(rows, by=["fleet"])
    curves = curves[curves["mechanism"] == "wear"].rename(columns={"failed_share": "surviving_share"})
    at = np.arange(0.5, 1000)
    hazard = 2.5 / 1300 * (at / 1300) ** 1.5 * np.exp(-((at / 1300) ** 2.5) - (at / 1600) ** 1.3)
    found = {}
    for age in (600, 1000):
        shares = [row_at(one, age) for _, one in curves.groupby("fleet")]
        found[f"incidence at {age} h"] = Sample.of(shares, hazard[:age].sum(), Kind.SHARE)
    return found
