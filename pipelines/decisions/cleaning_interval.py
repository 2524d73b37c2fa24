"""Whether to clean ahead of faults, and how long after the last clean: the least long-run cost, held against waiting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.renewal_cost import Renewal, long_run_rates
from pipelines.vocabulary import Calendar, CalendarWhy

#: A calendar is advised where it saves with this chance, is expected to save this share, and so many failures tell of it.
LEAST_CHANCE, LEAST_SAVING, LEAST_FAILURES = 0.9, 0.03, 100
#: It would buy nothing where even the best interval, known beforehand, saves less than that with this chance.
SURE = 0.95
#: Intervals whose expected cost is within so much of the best one's, as a share of the cost of waiting, are as good.
AS_GOOD = 0.01
#: Intervals looked at, as multiples of the middle scale, besides those that people keep.
GRID = np.geomspace(0.08, 2.5, 12)
#: Points at which that is looked for.
FINE = 400
#: Kinds of controllers, by their factor.
FACTORS = 3


@dataclass(frozen=True)
class Costs:
    """Money for one planned clean, and for one fault all told; from 0."""

    planned: float
    fault: float

    def __post_init__(self) -> None:
        if not (0 <= self.planned < np.inf and 0 <= self.fault < np.inf):
            raise InputError("A cost is no amount from 0.", "Give both costs from 0.")


@dataclass(frozen=True)
class CostPoint:
    """Costs per unit of the clock when cleaned so long after the last clean; saving: share of the cost of waiting."""

    interval: float
    cost: float
    low: float
    high: float
    saving_share: float


@dataclass(frozen=True)
class Planned:
    """The verdict for one group. is_best_case: cleans were taken to give all age back, because what they do cannot be told; the
    saving is then the most there can be.

    interval: of the least expected cost, in the clock's unit, None where waiting costs least; saving: of the cost of waiting,
    with limits; saves_chance: that it saves at all; most_saving: what the best interval saves at most (95 %); as_good: from, to,
    of intervals as good; is_edge: the shortest looked at is best; slot: the interval among those asked for that costs least;
    slot_saving: its saving; waiting: cost per unit of the clock without a calendar; faults, cleans: per unit of the clock at
    `interval`, and faults when waiting.
    """

    verdict: Calendar
    why: CalendarWhy
    is_best_case: bool
    interval: float | None
    saving: Estimate
    saves_chance: float
    most_saving: float
    as_good: tuple[float, float] | None
    is_edge: bool
    slot: float | None
    slot_saving: Estimate | None
    waiting: Estimate
    faults: float
    faults_waiting: float
    cleans: float
    curve: list[CostPoint]


def planned_cleaning(
    law: Renewal, variance: np.ndarray, costs: Costs, *, harm_share: np.ndarray, failures: int, is_best_case: bool,
    slots: Sequence[float] = (), level: float = 0.95,
) -> Planned:  # fmt: skip
    """Weigh intervals between cleans against waiting for faults, over draws of what the log leaves open.

    law: of draws, each field a number or an array (draws,); variance: of the factor of a controller, (draws,); harm_share:
    of planned cleans that cause a fault, (draws,); failures: that tell of the law; slots: intervals to weigh besides, in
    the clock's unit.   Raises InputError.
    Source: Barlow & Proschan (1965), chapter 4, for the policy (from memory); the bars were set by simulation.
    """
    grid = np.unique(np.concatenate([GRID * np.median(law.scale), [one for one in slots if 0 < one < np.inf]]))
    faults, cleans = fleet_rates(law, variance, np.append(grid, np.inf))
    faults = faults + np.asarray(harm_share).reshape(-1, 1) * cleans
    cost = costs.fault * faults + costs.planned * cleans
    if not costs.fault:
        return _for_nothing(grid, cost, faults, is_best_case)
    ratio = cost[:, :-1] / cost[:, -1:]
    expected = ratio.mean(axis=0)
    best = int(np.argmin(expected))
    saves = bool(expected[best] < 1)
    saving = _saving(ratio[:, best], level)
    most = float(np.quantile(1 - np.minimum(ratio.min(axis=1), 1.0), SURE))
    chance = float((ratio[:, best] < 1).mean())
    verdict, why = _verdict(costs, saving.estimate, chance, most, failures, is_best_case)
    kept = [int(np.searchsorted(grid, one)) for one in slots if 0 < one < np.inf]
    slot = min(kept, key=lambda place: expected[place]) if kept and saves else None
    tail = (1 - level) / 2
    curve = [
        CostPoint(*(float(one) for one in (at, cost[:, place].mean(), *np.quantile(cost[:, place], [tail, 1 - tail]),
                                           1 - expected[place])))
        for place, at in enumerate(grid)
    ]  # fmt: skip
    waiting = Estimate(*(float(one) for one in (cost[:, -1].mean(), *np.quantile(cost[:, -1], [tail, 1 - tail]))))
    return Planned(
        verdict, why, is_best_case, float(grid[best]) if saves else None, saving, chance, most,
        _as_good(grid, expected) if saves else None, saves and best == 0,
        None if slot is None else float(grid[slot]), None if slot is None else _saving(ratio[:, slot], level), waiting,
        float(faults[:, best].mean()), float(faults[:, -1].mean()), float(cleans[:, best].mean()), curve,
    )  # fmt: skip


def fleet_rates(law: Renewal, variance: np.ndarray, after: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return faults and planned cleans per unit of the clock, (draws, intervals), averaged over controllers that differ."""
    factor, weight = _factors(np.asarray(variance, dtype=float).reshape(-1))
    wide = {name: np.asarray(getattr(law, name), dtype=float).reshape(-1, 1, 1) for name in law.__dataclass_fields__}
    wide["scale"] = wide["scale"] * factor[:, :, None] ** (-1 / wide["shape"])
    rates = long_run_rates(Renewal(**wide), after)
    return tuple((one * weight[:, :, None]).sum(axis=1) for one in rates)


def _factors(variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return Gauss points and weights of gamma factors with mean 1, (draws, FACTORS) (Golub & Welsch 1969, from memory)."""
    index = 1 / np.maximum(variance, 1e-6)
    order = np.arange(FACTORS)
    matrix = np.zeros((len(variance), FACTORS, FACTORS))
    matrix[:, order, order] = 2 * order + index[:, None]
    beside = np.sqrt(order[1:] * (order[1:] + index[:, None] - 1))
    matrix[:, order[1:], order[:-1]] = matrix[:, order[:-1], order[1:]] = beside
    roots, vectors = np.linalg.eigh(matrix)
    return np.maximum(roots / index[:, None], 1e-6), vectors[:, 0, :] ** 2


def _verdict(
    costs: Costs, saving: float, chance: float, most: float, failures: int, is_best_case: bool
) -> tuple[Calendar, CalendarWhy]:  # fmt: skip
    if costs.planned >= costs.fault:
        return Calendar.NEVER, CalendarWhy.DEAR_CLEAN
    if most < LEAST_SAVING:
        return Calendar.NEVER, CalendarWhy.NO_RISE
    if is_best_case:
        return Calendar.TOO_CLOSE, CalendarWhy.RESTORATION_UNTOLD
    if failures < LEAST_FAILURES:
        return Calendar.TOO_CLOSE, CalendarWhy.TOO_FEW_FAILURES
    if chance < LEAST_CHANCE:
        return Calendar.TOO_CLOSE, CalendarWhy.UNSURE
    return (Calendar.CLEAN, CalendarWhy.SAVES) if saving >= LEAST_SAVING else (Calendar.TOO_CLOSE, CalendarWhy.LITTLE)


def _saving(ratio: np.ndarray, level: float) -> Estimate:
    tail = (1 - level) / 2
    return Estimate(*(float(1 - one) for one in (ratio.mean(), *np.quantile(ratio, [1 - tail, tail]))))


def _as_good(grid: np.ndarray, expected: np.ndarray) -> tuple[float, float]:
    """Return the ends of the intervals about the best one that cost hardly more, on a smooth line through those looked at."""
    from scipy.interpolate import PchipInterpolator

    log = np.log(grid)
    fine = np.linspace(log[0], log[-1], FINE)
    is_dearer = PchipInterpolator(log, expected)(fine) > min(expected.min() + AS_GOOD, 1.0)
    best = np.searchsorted(fine, log[np.argmin(expected)])
    before, after = np.flatnonzero(is_dearer[:best]), np.flatnonzero(is_dearer[best:])
    first = before[-1] + 1 if len(before) else 0
    last = best + after[0] - 1 if len(after) else FINE - 1
    best_at = float(grid[np.argmin(expected)])
    return min(float(np.exp(fine[first])), best_at), max(float(np.exp(fine[last])), best_at)


def _for_nothing(grid: np.ndarray, cost: np.ndarray, faults: np.ndarray, is_best_case: bool) -> Planned:
    """Return the verdict where a fault costs nothing: no clean ahead of it can save."""
    curve = [CostPoint(float(at), *[float(cost[:, place].mean())] * 3, 0.0) for place, at in enumerate(grid)]
    nothing, waiting = Estimate(0.0, 0.0, 0.0), float(faults[:, -1].mean())
    return Planned(
        Calendar.NEVER, CalendarWhy.DEAR_CLEAN, is_best_case, None, nothing, 0.0, 0.0, None, False, None, None, nothing, waiting,
        waiting, 0.0, curve,
    )  # fmt: skip
