"""Faults of the same units before and after a day: plain rates, and against what was to be expected without a programme."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require, require_columns
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.expected_after import expected_after
from pipelines.estimates.rate_ratio import against_expected, halving_power, rate, rate_ratio
from pipelines.vocabulary import Because

#: From this many units and faults on each side, those outside the programme are told well enough to compare with.
ENOUGH_OTHERS = 10


@dataclass(frozen=True)
class Sides:
    """Faults and exposure of some units on both sides, the rates with their limits, and the rate after over the rate before.

    spread: variance over that of Poisson counts, from the units, at least 1; expected: faults after, were the rate that of
    before.
    """

    units: int
    before_faults: int
    before_exposure: float
    after_faults: int
    after_exposure: float
    before: Estimate
    after: Estimate
    ratio: Estimate
    spread: float


@dataclass(frozen=True)
class FairChange:
    """The change against what was to be expected without the programme.

    expected_faults: after, of the units in it, from what they had before (shrunk towards the others where they were picked one
    by one) and from how the others changed. shrunk_share: how much lower than their own rate before that is before the others
    are looked at, the fall that chance alone would bring. others_change: of the units not in it, observed over expected; None
    where they are too few. ratio: observed over expected; power: the chance that a halving would have been shown.
    """

    expected_faults: float | None
    shrunk_share: float | None
    others_change: float | None
    ratio: Estimate
    power: float


def sides(units: pd.DataFrame, *, level: float = 0.95) -> Sides:
    """Compare the same units before and after.

    units: one row a unit: before_faults, before_exposure, after_faults, after_exposure, exposures over 0.
    Raises InputError.   Source: rates and ratio as in `rate_ratio`, with counts divided by the spread between units; that of the
    ratio is of the paired residuals (sandwich over units, as in Lawless & Nadeau 1995, from memory).
    """
    b, hb, a, ha = checked(units)
    if not len(units):
        nothing = Estimate.refused(Because.NO_SPELLS)
        return Sides(0, 0, 0.0, 0, 0.0, nothing, nothing, nothing, 1.0)
    spread = _paired_spread(b, hb, a, ha)
    before, after = (rate(n.sum(), h.sum(), level=level, spread=_spread(n, h)) for n, h in ((b, hb), (a, ha)))
    ratio = rate_ratio(a.sum(), ha.sum(), b.sum(), hb.sum(), level=level, spread=spread)
    return Sides(
        len(units), int(b.sum()), float(hb.sum()), int(a.sum()), float(ha.sum()), before, after, ratio, spread
    )  # fmt: skip


def fair_change(chosen: pd.DataFrame, others: pd.DataFrame, *, is_picked: bool, level: float = 0.95) -> FairChange:
    """Hold the faults after against those to be expected without the programme.

    chosen, others: units in the programme and not in it, as in `sides`. is_picked: the units were picked one by one, perhaps
    because they were bad; else they are a whole site or family, and only the others' change is taken off.
    Raises InputError.   Source: the empirical Bayes before-after study of Hauer (1997, from memory) with a comparison group.
    """
    if not len(chosen):
        return FairChange(None, None, None, Estimate.refused(Because.NO_SPELLS), 0.0)
    has_others = bool(
        len(others) >= ENOUGH_OTHERS and min(others["before_faults"].sum(), others["after_faults"].sum()) >= ENOUGH_OTHERS
    )
    is_one_fleet = is_picked and len(others) > 0
    own = expected_after([chosen, others] if is_one_fleet else [chosen])
    if own is None:
        return FairChange(None, None, None, Estimate.refused(Because.NO_FAILURES), 0.0)
    middle, variance = own.log(0)
    before = chosen["before_faults"].sum() * (chosen["after_exposure"].sum() / chosen["before_exposure"].sum())
    shrunk = 1 - exp(middle) / before if before and is_one_fleet else None
    change = None
    if has_others:
        theirs = own if is_one_fleet else expected_after([others])
        seen = float(others["after_faults"].sum())
        place = 1 if is_one_fleet else 0
        change = seen / exp(theirs.log(place)[0])
        if is_one_fleet:
            middle, variance = own.log(0, against=1)
        else:
            (own_middle, own_variance), (middle, variance) = (middle, variance), theirs.log(0)
            middle, variance = own_middle - middle, own_variance + variance
        middle, variance = middle + log(seen), variance + float(theirs.spread[place]) / seen
    expected, spread = exp(middle), float(own.spread[0])
    words = {"relative_error": sqrt(variance), "level": level, "spread": spread}
    ratio = against_expected(float(chosen["after_faults"].sum()), expected, **words)
    return FairChange(expected, shrunk, change, ratio, halving_power(expected, **words))


def checked(units: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return the four columns as floats. Raises InputError."""
    names = ["before_faults", "before_exposure", "after_faults", "after_exposure"]
    require_columns(units, names)
    columns = [units[name].to_numpy(dtype=float) for name in names]
    for name, values in zip(names, columns, strict=True):
        is_fine = np.isfinite(values) & ((values >= 0) if name.endswith("faults") else (values > 0))
        require(is_fine, f"`{name}` holds a missing or impossible number", "Keep units that were watched on both sides.")
    return tuple(columns)


def _spread(n: np.ndarray, h: np.ndarray) -> float:
    """Return the variance of a sum of counts over that of Poisson counts, at least 1."""
    total = n.sum()
    if not total or len(n) < 2:
        return 1.0
    return max(1.0, float(((n - total / h.sum() * h) ** 2).sum() / total * len(n) / (len(n) - 1)))


def _paired_spread(b: np.ndarray, hb: np.ndarray, a: np.ndarray, ha: np.ndarray) -> float:
    """Return the variance of the log ratio over that of Poisson counts, at least 1."""
    if not (a.sum() and b.sum()) or len(a) < 2:
        return 1.0
    residual = a / a.sum() - ha / ha.sum() - b / b.sum() + hb / hb.sum()
    return max(1.0, float((residual**2).sum() / (1 / a.sum() + 1 / b.sum()) * len(a) / (len(a) - 1)))
