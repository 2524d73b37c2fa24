"""Which places have more faults than luck explains: each against what its families and sites would lead to expect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require, require_columns, times, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.expected_faults import expected_faults
from pipelines.estimates.luck import Luck
from pipelines.estimates.many_tests import false_discovery
from pipelines.estimates.matched_counts import luck_limits
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: A place whose faults can differ from those expected by less than this share of them cannot be compared.
LEAST_FREE = 1e-6


@dataclass(frozen=True)
class PlaceRate:
    """One place. exposure, expected: its use, and the faults expected of that; rate: faults per exposure, with limits.

    ratio: observed over expected, which luck alone keeps between luck_low and luck_high; p_value: the chance of so many faults
    by luck, p_adjusted for all places looked at; is_worse: p_adjusted is below 1 − level. Where `because` says why, those
    five are None and is_worse is False.
    """

    name: str
    because: Because | None
    units: int
    failures: int
    exposure: float
    expected: float
    rate: Estimate
    ratio: float | None = None
    luck_low: float | None = None
    luck_high: float | None = None
    p_value: float | None = None
    p_adjusted: float | None = None
    is_worse: bool = False


@dataclass(frozen=True)
class PlaceRates:
    """The places in the order of their names; spread: the coefficient of variation between controllers that luck takes in."""

    places: tuple[PlaceRate, ...]
    spread: float | None
    because: Because | None = None


def place_rates(counts: pd.DataFrame, *, place: str, adjust: Sequence[str], level: float = 0.95) -> PlaceRates:
    """Compare places by faults per exposure, with luck that takes in how much controllers differ.

    counts: rows of `place` (blank: left out), `adjust`, unit (the controller), exposure (from 0), failure_count.
    Without failures `no_failures`, with less than two places to compare `one_level`; of a place `no_spells` (no exposure),
    `no_failures` (none expected), `confounded` (all of its family, say, is there and nowhere else: nothing to be held against).
    Raises InputError on broken counts.

    Method: expected by indirect standardisation; faults of a controller negative binomial around it; `Luck` gives the
    variance of observed less expected, and a law of that mean and variance mid-p values, one-sided, adjusted after Benjamini &
    Hochberg. Sources: Breslow & Day (1987), ch. 2; Spiegelhalter (2005), Statistics in Medicine 24:1185–1202 (both from memory).
    """
    normal_quantile(level)
    require_columns(counts, [place, *adjust, "unit", "exposure", "failure_count"])
    counts = counts[counts[place].notna()]
    exposure, failures = times(counts, "exposure"), whole_counts(counts, "failure_count")
    require(np.isfinite(exposure), "An exposure has no end", "Give the time that was watched.")
    if not len(counts):
        return PlaceRates((), None, Because.NO_SPELLS)
    groups, units = group([counts], by=[place]), group([counts], by=["unit"]).codes[0]
    names, of = groups.keys[place].tolist(), groups.codes[0]
    due, levels = expected_faults(counts, exposure, failures, by=adjust)
    seen, use, expected = (np.bincount(of, one, len(names)).astype(float) for one in (failures, exposure, due))
    luck = Luck(of, units, due, failures, levels)
    reasons = [
        Because.NO_SPELLS if not use[one] > 0 else Because.NO_FAILURES if not expected[one] > 0
        else Because.CONFOUNDED if luck.free[one] <= LEAST_FREE * expected[one] else None
        for one in range(len(names))
    ]  # fmt: skip
    tested = np.array([number for number, reason in enumerate(reasons) if reason is None], dtype=int)
    whole = None if len(tested) > 1 else Because.ONE_LEVEL if failures.sum() else Because.NO_FAILURES
    if len(tested) == 1:
        reasons[tested[0]], tested = Because.ONE_LEVEL, tested[:0]
    p_value = luck.more_by_chance(tested, seen[tested])
    adjusted = false_discovery(p_value)
    limits = luck_limits(expected[tested], luck.variance[tested], level=level)
    told = {
        int(number): {
            "ratio": seen[number] / expected[number], "luck_low": low / expected[number], "luck_high": high / expected[number],
            "p_value": p, "p_adjusted": wide,
        }
        for number, low, high, p, wide in zip(tested, *limits, p_value, adjusted, strict=True)
    }  # fmt: skip
    rates = _rates(seen, use, expected, luck.own_variance, level)
    places = tuple(
        PlaceRate(
            str(name), reasons[number], int(luck.units[number]), int(seen[number]), float(use[number]), float(expected[number]),
            rates[number], **{key: float(value) for key, value in told.get(number, {}).items()},
            is_worse=bool(number in told and told[number]["p_adjusted"] < 1 - level),
        )
        for number, name in enumerate(names)
    )  # fmt: skip
    return PlaceRates(places, luck.spread if failures.sum() else None, whole)


def _rates(seen, use, expected, own_variance, level: float) -> list[Estimate]:
    """Return faults per exposure with gamma limits: exact where controllers do not differ, wider where they do.

    Sources: Garwood (1936), Biometrika 28:437–442; the widening by a ratio of variances: McCullagh & Nelder (1989), ch. 9
    (both from memory).
    """
    from scipy.special import gammaincinv

    tail = (1 - level) / 2
    due = np.where(expected > 0, expected, 1.0)
    wider = 1 + seen / due * own_variance / due
    low = wider * gammaincinv(np.maximum(seen / wider, 1e-300), tail)
    high = wider * gammaincinv(seen / wider + 1, 1 - tail)
    return [
        Estimate(float(k / t), float(below / t) if k else 0.0, float(above / t)) if t > 0 else Estimate.refused(Because.NO_SPELLS)
        for k, t, below, above in zip(seen, use, low, high, strict=True)
    ]
