"""Probability plots: the observed failures and the fitted laws on axes on which each law is a straight line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns
from pipelines.estimates.life_likelihood import Likelihood
from pipelines.estimates.lives import LifeSpells, checked, fitted
from pipelines.estimates.lognormal_likelihood import LognormalCounts
from pipelines.estimates.weibull_likelihood import WeibullCounts
from pipelines.vocabulary import Because

#: Ages at which a fitted line is given.
STEPS = 60


@dataclass(frozen=True)
class PlotLine:
    """A fitted law over age; because: why there is none (`line` is then empty), else None.

    line: up to 60 rows of `at`, `log_at`, `height`, `height_low`, `height_high`, `failed_share`, `low`, `high`: the line in
    the law's own height, and as a share. The band is by likelihood ratio at each age; NaN where a limit is not reached.
    given_share: the share that by this law gets to the age from which the curve holds; 1 where that is 0 or without a fit.
    """

    because: Because | None
    line: pd.DataFrame
    given_share: float


@dataclass(frozen=True)
class ProbabilityPlot:
    """points: one row for each age with failures: `at`, `log_at`, `failed_share`, `weibull_height`, `lognormal_height`.

    Ages in the clock's unit, logs natural. failed_share: of those that got to the age from which the curve holds; the
    heights are of all, the share that gets there taken from the law of the axis.
    """

    points: pd.DataFrame
    weibull: PlotLine
    lognormal: PlotLine


def probability_plot(
    curve: pd.DataFrame,
    spells: pd.DataFrame,
    *,
    level: float = 0.95,
    min_failures: int = 6,
    entries: pd.DataFrame | None = None,
) -> ProbabilityPlot:
    """Return the points of one group's curve and the two fitted lines with their bands.

    curve: one group's rows of `survival`; or `from_at`, `to_at`, `surviving_share` (after it), one row for each interval in
    which failures may lie, sorted: its point stands in the middle, and what fails after the last visit has none. Each
    point stands halfway up its step, where neither the share before nor the one after it is favoured; `is_drawn` comes
    along where the curve has it. A curve with `given_at` above 0 holds given that this age was reached.
    spells, entries: of the same group, as in `weibull`; the lines run from the first point to the end of the curve.
    Without a fit as in `weibull`, or `no_spells`. Raises InputError.
    Source: Meeker & Escobar (1998), Statistical Methods for Reliability Data, sections 6.4 and 8.3 (from memory).
    """
    points = _points(curve)
    lives = checked(spells, by=[], entries=entries)
    ages = np.zeros(0)
    if len(points):
        last = curve["at" if "at" in curve else "to_at"].replace(np.inf, np.nan).max()
        ages = np.unique(np.geomspace(points["at"].iloc[0], last, STEPS))
    given_at = float(curve["given_at"].iloc[0]) if "given_at" in curve and len(curve) else 0.0
    options = {"given_at": given_at, "level": level, "min_failures": min_failures}
    weibull = _line(lives, WeibullCounts, ages, **options)
    lognormal = _line(lives, LognormalCounts, ages, **options)
    for name, height_of, law in (("weibull", weibull_height, weibull), ("lognormal", lognormal_height, lognormal)):
        points[f"{name}_height"] = height_of(1 - law.given_share * (1 - points["failed_share"].to_numpy()))
    return ProbabilityPlot(points, weibull, lognormal)


def weibull_height(failed_share: np.ndarray) -> np.ndarray:
    """Return the height of shares failed (above 0, under 1) on the Weibull axis: the log cumulative hazard."""
    return np.log(-np.log1p(-np.asarray(failed_share, dtype=float)))


def lognormal_height(failed_share: np.ndarray) -> np.ndarray:
    """Return the height of shares failed (above 0, under 1) on the lognormal axis: the normal quantile."""
    from scipy.special import ndtri

    return ndtri(np.asarray(failed_share, dtype=float))


def _points(curve: pd.DataFrame) -> pd.DataFrame:
    is_intervals = "to_at" in curve
    require_columns(curve, ["surviving_share", *(["from_at", "to_at"] if is_intervals else ["at"])])
    share = curve["surviving_share"].to_numpy(dtype=float)
    before = np.append(1.0, share[:-1])
    require(before >= share, "The curve rises", "Give the rows of one group, in the order of age.")
    at = (curve["from_at"] + curve["to_at"]).to_numpy(dtype=float) / 2 if is_intervals else curve["at"].to_numpy(dtype=float)
    is_step = (before > share) & (at > 0) & (at < np.inf)
    failed_share = 1 - (before + share)[is_step] / 2
    points = pd.DataFrame({"at": at[is_step], "log_at": np.log(at[is_step]), "failed_share": failed_share})
    return points.assign(is_drawn=curve["is_drawn"].to_numpy()[is_step]) if "is_drawn" in curve else points


def _line(
    lives: LifeSpells, law: type[Likelihood], ages: np.ndarray, *, given_at: float, level: float, min_failures: int
) -> PlotLine:
    asked = np.append(given_at, ages) if given_at > 0 else ages
    groups = fitted(lives, law, heights=(), ages=asked, level=level, min_failures=min_failures)
    found = groups[0].line if groups else Because.NO_SPELLS
    is_refused = isinstance(found, Because)
    heights = np.array([] if is_refused else found.heights, dtype=float).reshape(-1, 3)
    given_share = 1.0
    if len(heights) > len(ages):
        given_share = 1 - float(_failed_share(heights[0, 0], law))
        heights = heights[1:]
    shares = _failed_share(heights, law)
    at = ages[: len(heights)]
    line = pd.DataFrame({"at": at, "log_at": np.log(at)})
    for column, name in enumerate(("", "_low", "_high")):
        line[f"height{name}"] = heights[:, column]
    for column, name in enumerate(("failed_share", "low", "high")):
        line[name] = shares[:, column]
    return PlotLine(found if is_refused else None, line, given_share)


def _failed_share(height: np.ndarray, law: type[Likelihood]) -> np.ndarray:
    from scipy.special import ndtr

    # Above a height of 5 the share is 1 to the last digit.
    return ndtr(height) if law is LognormalCounts else -np.expm1(-np.exp(np.minimum(height, 5.0)))
