"""Which failure mechanism the excess of a batch comes from: failures of each, against those of the rest made alike.

Sources: limits of what is expected, a weighted sum of counts: Fay & Feuer (1997), Statistics in Medicine 16:791–801; joined
with those of the count as Zou & Donner (2008), Statistics in Medicine 27:1693–1702 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np

from pipelines.estimates.alike import Alike
from pipelines.estimates.competing import NOT_RECORDED
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.many_tests import holm
from pipelines.estimates.matched_counts import mid_p
from pipelines.estimates.rate_ratio import against_expected, rate
from pipelines.vocabulary import Because

#: Of the failures of either side at least this share must have a mechanism.
LEAST_RECORDED = 0.5


@dataclass(frozen=True)
class MechanismExcess:
    """One mechanism: failures of the batch and of the rest, those expected of the batch, their ratio and difference (excess).

    p_value: the chance of so large a difference by luck, either way; p_adjusted: Holm's over the mechanisms. Both None for
    failures of which none is recorded. is_source: more than luck explains. batch_share, rest_share: failed of it by each age of
    `ages`, where the other mechanisms end lives too.
    """

    mechanism: str
    failures: int
    rest_failures: int
    expected: float
    ratio: Estimate
    excess: Estimate
    p_value: float | None
    p_adjusted: float | None
    is_source: bool
    batch_share: np.ndarray
    rest_share: np.ndarray


@dataclass(frozen=True)
class ExcessByMechanism:
    """mechanisms: the largest excess first; ages: of their shares; recorded: failures of either side with a mechanism."""

    mechanisms: tuple[MechanismExcess, ...]
    ages: np.ndarray
    batch_recorded: int
    rest_recorded: int
    because: Because | None = None


def excess_by_mechanism(pair: Alike, *, level: float = 0.95) -> ExcessByMechanism:
    """Set each mechanism beside what the rest had of it.

    Refused as `alike`, and as `no_causes` where under half of the failures of a side have a mechanism. Counts are taken to
    vary as those of Poisson do, or more, by what the sticks of a controller share.
    """
    if pair.because is not None:
        return ExcessByMechanism((), pair.age, 0, 0, pair.because)
    tables = [_failed(pair, number) for number in range(len(pair.mechanisms))]
    known = [table for table, name in zip(tables, pair.mechanisms, strict=True) if name != NOT_RECORDED]
    recorded = [int(sum(table[side].sum() for table in known)) for side in (0, 1)]
    if any(k < LEAST_RECORDED * n for k, n in zip(recorded, (pair.compared_failures, pair.rest_failures), strict=True)):
        return ExcessByMechanism((), pair.age, *recorded, Because.NO_CAUSES)
    found = [_excess(pair, number, table, level) for number, table in enumerate(tables)]
    tested = [place for place, one in enumerate(found) if one.mechanism != NOT_RECORDED]
    adjusted = dict(zip(tested, holm(np.array([found[place].p_value for place in tested])).tolist(), strict=True))
    told = [_told(one, adjusted.get(place), level) for place, one in enumerate(found)]
    return ExcessByMechanism(tuple(sorted(told, key=lambda one: -one.excess.estimate)), pair.age, *recorded)


def _told(one: MechanismExcess, adjusted: float | None, level: float) -> MechanismExcess:
    if adjusted is None:
        return replace(one, p_value=None)
    return replace(one, p_adjusted=adjusted, is_source=adjusted < 1 - level and one.excess.estimate > 0)


def _failed(pair: Alike, mechanism: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the failures of a mechanism of batch and rest where they are compared: (cells, ages)."""
    rows, size = pair.rows, len(pair.age)
    found = []
    for side in (rows.is_batch, ~rows.is_batch):
        mine = side & (rows.failing < size) & (rows.mechanism == mechanism)
        table = np.zeros(pair.rest.shape)
        np.add.at(table, (rows.cell[mine], rows.failing[mine]), rows.count[mine])
        found.append(np.where(pair.rest > 0, table, 0.0))
    return found[0], found[1]


def _excess(pair: Alike, number: int, table: tuple[np.ndarray, np.ndarray], level: float) -> MechanismExcess:
    mine, others = table
    weight = pair.rest_weight
    failures, expected, variance = float(mine.sum()), float((weight * others).sum()), float((weight**2 * others).sum())
    largest = float(weight.max(initial=0.0))
    spread = _spread(pair, number, others, failures, expected, variance)
    low, high = _expected_limits(expected, variance, largest, level)
    ratio = Estimate.refused(Because.NO_FAILURES)
    if expected:
        ratio = against_expected(failures, expected, relative_error=sqrt(variance) / expected, level=level, spread=spread)
    count = rate(failures, 1.0, level=level, spread=spread)
    gap = failures - expected
    below, above = hypot(failures - (count.low or 0.0), high - expected), hypot(count.high - failures, expected - low)
    excess = Estimate(gap, gap - below, gap + above)
    # Of what the rest never had, one failure of theirs is taken, which is too much.
    mean, doubt = (expected, variance) if expected else (largest, largest**2)
    more = float(mid_p(np.array([failures]), np.array([mean]), np.array([mean * spread + doubt]))[0])
    p, shares = min(2 * min(more, 1 - more), 1.0), _shares(pair, mine, others)
    return MechanismExcess(
        str(pair.mechanisms[number]), int(failures), int(others.sum()), expected, ratio, excess, p, None, False, *shares
    )  # fmt: skip


def _spread(pair: Alike, number: int, others: np.ndarray, failures: float, expected: float, variance: float) -> float:
    """Return the variance of the excess by controller over that of Poisson counts, 1 at least."""
    pace = np.divide(others, pair.rest, out=np.zeros(others.shape), where=pair.rest > 0)
    weight, compared = pair.rest_weight, np.where(pair.rest > 0, 1.0, 0.0)
    own = failures / expected if expected else 0.0
    summed = pair.influence(
        np.array([len(pair.age) - 1]), taken=(compared * pace * own, -weight * pace), gained=(compared, -weight), mechanism=number
    )  # fmt: skip
    plain = failures + variance
    return max(float((summed**2).sum()) / plain, 1.0) if plain else 1.0


def _expected_limits(expected: float, variance: float, largest: float, level: float) -> tuple[float, float]:
    from scipy.special import gammaincinv

    tail = (1 - level) / 2
    low = variance / expected * float(gammaincinv(expected**2 / variance, tail)) if expected else 0.0
    mean, spread = expected + largest, variance + largest**2
    return low, spread / mean * float(gammaincinv(mean**2 / spread, 1 - tail)) if mean else 0.0


def _shares(pair: Alike, mine: np.ndarray, others: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the share of batch and rest failed of a mechanism by each age (Aalen & Johansen, on the tables)."""
    someone = np.maximum(pair.batch.sum(axis=0), 1)
    found = []
    for weight, failed, all_failed in ((1.0, mine, pair.batch_failed), (pair.rest_weight, others, pair.rest_failed)):
        chance, all_chance = ((weight * one).sum(axis=0) / someone for one in (failed, all_failed))
        before = np.append(1.0, np.cumprod(1 - all_chance)[:-1])
        found.append(np.cumsum(before * chance))
    return found[0], found[1]
