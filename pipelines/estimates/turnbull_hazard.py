"""The likelihood of failures known to lie in intervals, in the steps of the cumulative hazard, and its maximum.

Time is cut into the cells in which a failure may be placed. With x ≥ 0 the step of the cumulative hazard in each cell,
failures in the cells p to q − 1 add w·log(1 − exp(−Σx)) and everything surely at risk adds −Σ Y·x, also with late entry.
That is concave, so projected Newton steps find its one maximum. A late entry only lowers Y, and with known failure times
the maximum is the product-limit curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

#: Stands for "nobody is surely at risk", so that the step of such a cell is large but finite.
NOBODY = 1e-10
#: A step this small is 0 where the slope points below 0.
SMALLEST_STEP = 1e-9
#: Keeps the second derivatives regular.
RIDGE = 1e-10
MOST_STEPS, MOST_HALVINGS = 100, 60
FIRST_ROUNDS = 20
#: A limit is looked for until the root of the drop is right to this share of itself.
ROUGHLY = 1e-3
#: A lift of e^30 forces the steps to 0, if anything does.
LARGEST_TURN = 30.0
#: A search for a limit does not begin in cells where all failed, from where the way back is long.
LARGEST_START = 3.0


class Maximum(NamedTuple):
    """step: x of each cell; value: the log-likelihood of the steps, what was lifted apart; give: how fast the summed hazard
    of the lifted cells falls as the lift grows."""

    step: np.ndarray
    value: float
    give: float


@dataclass(frozen=True)
class Cells:
    """One group: bounds of its cells (from, to], failures by cells covered (`first` to `end` − 1), and who is at risk.

    surely: neither gone nor possibly failed yet; known: not known to be gone.
    """

    from_at: np.ndarray
    to_at: np.ndarray
    first: np.ndarray
    end: np.ndarray
    failed: np.ndarray
    surely: np.ndarray
    known: np.ndarray

    @property
    def count(self) -> int:
        return len(self.from_at)

    def over(self, values: np.ndarray) -> np.ndarray:
        """Return the sum of the cells' values over each interval."""
        running = np.append(0.0, np.cumsum(values))
        return running[self.end] - running[self.first]

    def spread(self, values: np.ndarray) -> np.ndarray:
        """Return for each cell the sum of the intervals' values that cover it."""
        size = self.count + 1
        rises = np.bincount(self.first, weights=values, minlength=size)
        return np.cumsum(rises - np.bincount(self.end, weights=values, minlength=size))[:-1]

    def value(self, step: np.ndarray, at_risk: np.ndarray) -> float:
        over = self.over(step)
        if not (over > 0).all():
            return -np.inf
        return float(self.failed @ np.log(-np.expm1(-over)) - at_risk @ step)

    def slope(self, step: np.ndarray, at_risk: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the slope of the log-likelihood in each step, and how much each interval bends it."""
        over = self.over(step)
        gone = -np.expm1(-over)
        pull = self.failed * np.exp(-over) / gone
        return self.spread(pull) - at_risk, pull / gone

    def bend(self, bends: np.ndarray, is_free: np.ndarray) -> np.ndarray:
        """Return minus the second derivatives in the free steps: for each two, the bends of the intervals over both."""
        place = np.append(0, np.cumsum(is_free))
        first, last, size = place[self.first], place[self.end] - 1, place[-1]
        inside = last >= first
        corner = np.bincount(first[inside] * size + last[inside], weights=bends[inside], minlength=size**2)
        over = corner.reshape(size, size).cumsum(axis=0)[:, ::-1].cumsum(axis=1)[:, ::-1]
        rank = np.arange(size)
        return np.where(rank[:, None] <= rank, over, over.T)

    def start(self) -> np.ndarray:
        """Return steps after some rounds of self-consistency (Turnbull 1976), failures spread evenly at first."""
        possible = self.spread(self.failed)
        step = np.full(self.count, 1 / self.count)
        for _ in range(FIRST_ROUNDS):
            share = np.exp(-np.append(0.0, np.cumsum(step)[:-1])) * -np.expm1(-step)
            over = self.over(share)
            placed = share * self.spread(np.where(over > 0, self.failed / np.where(over > 0, over, 1.0), 0.0))
            begun = np.cumsum(np.bincount(self.first, weights=self.failed, minlength=self.count))
            waiting = self.surely + begun - np.append(0.0, np.cumsum(placed)[:-1])
            chance = np.clip(placed / np.maximum(waiting, NOBODY), 0.0, 0.999)
            step = -np.log1p(-chance)
        is_sure = self.surely <= NOBODY
        return np.where(is_sure, np.log1p(possible / NOBODY), np.maximum(step, SMALLEST_STEP))


def maximum(
    cells: Cells, start: np.ndarray, *, lift: float = 0.0, lifted: np.ndarray | None = None, tolerance: float = 1e-10
) -> Maximum:
    """Return the steps of greatest likelihood, where `lift` more are taken to be at risk in the lifted cells.

    tolerance: of the slopes, as a share of the number at risk. At least one Newton step is taken.
    """
    lifted = np.zeros(cells.count) if lifted is None else lifted
    at_risk = np.maximum(cells.surely + lift * lifted, NOBODY)
    step, value = start, cells.value(start, at_risk)
    for taken in range(MOST_STEPS):
        slope, bends = cells.slope(step, at_risk)
        is_free = (step > SMALLEST_STEP) | (slope > 0)
        free = np.flatnonzero(is_free)
        inner = cells.bend(bends, is_free)
        inner.flat[:: len(free) + 1] *= 1 + RIDGE
        inner.flat[:: len(free) + 1] += RIDGE * NOBODY
        moves = np.linalg.solve(inner, np.column_stack([slope[free], lifted[free]]))
        give = float(lifted[free] @ moves[:, 1])
        if taken and (np.abs(slope[free]) <= tolerance * np.maximum(at_risk[free], 1.0)).all():
            break
        move = np.zeros(cells.count)
        move[free] = moves[:, 0]
        for halving in range(MOST_HALVINGS):
            trial = np.where(is_free, np.maximum(step + move * 0.5**halving, 0.0), 0.0)
            gained = cells.value(trial, at_risk)
            if gained >= value + 1e-4 * slope @ (trial - step):
                break
        else:
            break
        step, value = trial, gained
    return Maximum(step, value + lift * float(lifted @ step), give)


@dataclass(frozen=True)
class Lift:
    """Where the search for one limit ended: the summed hazard of the lifted cells, and where the next search may begin."""

    hazard: float
    turn: float
    step: np.ndarray


def limit(cells: Cells, top: Maximum, lifted: np.ndarray, *, drop: float, is_longer: bool, near: Lift | None = None) -> Lift:
    """Return the largest (`is_longer`: the smallest) summed hazard of the lifted cells within `drop` of the maximum.

    The most likely steps with a given sum are those with more, or fewer, at risk in these cells (Thomas & Grunkemeier
    1975), so one number is looked for: the lift, on a scale on which the root of the drop is nearly straight.
    near: the search of a neighbouring set of cells.
    """
    least = float(cells.surely[lifted > 0].min())
    found, turn = top.step, near.turn if near else 0.3
    if not is_longer and least <= NOBODY:
        return Lift(np.inf, turn, found)
    if is_longer and not lifted @ top.step > 0:
        return Lift(0.0, turn, found)
    scale = max(least, 1.0) if is_longer else least
    start = np.maximum(np.minimum(near.step if near else top.step, LARGEST_START), SMALLEST_STEP)
    goal, inside, outside = np.sqrt(2 * drop), 0.0, np.inf
    for _ in range(MOST_STEPS):
        lift = scale * np.expm1(turn if is_longer else -turn)
        found, value, give = maximum(cells, start, lift=lift, lifted=lifted, tolerance=ROUGHLY)
        start = np.maximum(found, SMALLEST_STEP)
        root = np.sqrt(max(2 * (top.value - value), 0.0))
        inside, outside = (turn, outside) if root < goal else (inside, turn)
        if abs(root - goal) < ROUGHLY * goal or inside > LARGEST_TURN:
            break
        bound = min(outside, 3 * turn + 0.1)
        pace = abs(lift) * give * (scale + lift)
        ahead = turn + (goal - root) * root / pace if pace > 0 and root > 0 else bound
        turn = ahead if inside < ahead < bound else (inside + bound) / 2 if outside < np.inf else bound
    return Lift(float(lifted @ found), turn, found)
