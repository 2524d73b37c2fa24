"""Who is best, and how sure is that: limits for ranks from draws of a posterior."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile

#: With fewer attempts (or spells) of its own a group is never called the best.
LEAST_SIZE = 8


@dataclass(frozen=True)
class Rank:
    """One group's rank, 1 for the greatest; a chance of being the greatest from 0 to 1.

    rank: the middle of its draws; low, high: "between 2nd and 6th", each group by itself. All None for a group that has no
    estimate, which takes no part in the ranking.
    """

    rank: int | None
    low: int | None
    high: int | None
    best_chance: float | None


@dataclass(frozen=True)
class Ranks:
    """The groups in the order given, and the place of the one that may be called the best: None where none may."""

    groups: list[Rank]
    best: int | None


def ranks(
    draws: np.ndarray,
    *,
    estimates: Sequence[Estimate],
    sizes: Sequence[float],
    level: float = 0.95,
    least_size: float = LEAST_SIZE,
) -> Ranks:
    """Rank groups by draws from one posterior, the greatest first.

    draws: (draws, groups), as `PooledShares.draws` or the scales of `PooledLives.draws` give them; estimates: what is shown
    of each group, refused ones are left out; sizes: attempts or spells of each group.
    A best group exists only where two or more are ranked, its limits lie above all the others' and it has `least_size`.
    Nothing here is random: equal draws give equal ranks, and the draws come from a fixed seed.
    Raises InputError where the three do not belong together.
    Source: Goldstein & Spiegelhalter (1996), J. R. Statist. Soc. A 159:385–443 (from memory).
    """
    normal_quantile(level)
    if draws.ndim != 2 or not draws.shape[1] == len(estimates) == len(sizes):
        raise InputError("Draws, estimates and sizes are not of the same groups.", "Give one column of draws a group.")
    if not np.isfinite(draws).all():
        raise InputError("Some draws are no numbers.", "Draw anew from the posterior.")
    ranked = np.flatnonzero([one.estimate is not None for one in estimates])
    found = [Rank(None, None, None, None)] * len(estimates)
    if not len(ranked) or not len(draws):
        return Ranks(found, None)
    places, is_top = _places(draws[:, ranked])
    tail = (1 - level) / 2
    limits = np.quantile(places, [tail, 0.5, 1 - tail], axis=0, method="inverted_cdf").astype(int)
    chances = (is_top / is_top.sum(axis=1, keepdims=True)).mean(axis=0)
    for number, (low, middle, high), chance in zip(ranked, limits.T.tolist(), chances.tolist(), strict=True):
        found[number] = Rank(middle, low, high, chance)
    return Ranks(found, _best(ranked, estimates, sizes, least_size=least_size))


def _places(draws: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return each group's rank in each draw, equals sharing the better one, and whether it is at the top."""
    order = np.argsort(-draws, axis=1, kind="stable")
    falling = np.take_along_axis(draws, order, axis=1)
    place = np.broadcast_to(np.arange(1, draws.shape[1] + 1), draws.shape).copy()
    is_equal = np.zeros(draws.shape, dtype=bool)
    is_equal[:, 1:] = falling[:, 1:] == falling[:, :-1]
    place[is_equal] = 0
    places = np.empty(draws.shape, dtype=np.int64)
    np.put_along_axis(places, order, np.maximum.accumulate(place, axis=1), axis=1)
    return places, places == 1


def _best(ranked: np.ndarray, estimates: Sequence[Estimate], sizes: Sequence[float], *, least_size: float) -> int | None:
    first = int(max(ranked, key=lambda one: estimates[one].estimate))
    low = estimates[first].low
    rest = [estimates[one].high for one in ranked if one != first]
    is_apart = low is not None and bool(rest) and all(high is not None and high < low for high in rest)
    return first if is_apart and sizes[first] >= least_size else None
