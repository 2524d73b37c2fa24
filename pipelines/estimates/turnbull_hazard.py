"""The likelihood of failures known to lie in intervals, in the steps of the cumulative hazard, and its maximum.

Time is cut into the cells in which a failure may be placed. With x ≥ 0 the step of the cumulative hazard in each cell,
failures in the cells p to q − 1 add w·log(1 − exp(−Σx)) and everything surely at risk adds −Σ Y·x, also with late entry.
That is concave, so it is climbed by constrained Newton steps (Wang 2008, from memory): the best non-negative steps of the
quadratic model, and as much of the way to them as gains. A late entry only lowers Y, and with known failure times the
maximum is the product-limit curve.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

#: Keeps the second derivatives regular.
RIDGE = 1e-10
MOST_STEPS, MOST_HALVINGS = 200, 60
FIRST_ROUNDS = 5
#: The maximum is found when the next step would gain no more than this in log-likelihood.
LEVEL = 1e-10


class Climbed(NamedTuple):
    """step: x of each cell; give: how fast the summed hazard of the lifted cells falls as more are at risk in them."""

    step: np.ndarray
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
        running = np.zeros(self.count + 1)
        np.cumsum(values, out=running[1:])
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

    def bend(self, bends: np.ndarray, used: np.ndarray) -> np.ndarray:
        """Return minus the second derivatives in the steps used: for each two, the bends of the intervals over both."""
        place, size = np.append(0, np.cumsum(used)), int(used.sum())
        first, last = place[self.first], place[self.end] - 1
        inside = last >= first
        corner = np.bincount(first[inside] * size + last[inside], weights=bends[inside], minlength=size**2)
        over = corner.reshape(size, size).cumsum(axis=0)[:, ::-1].cumsum(axis=1)[:, ::-1]
        rank = np.arange(size)
        return np.where(rank[:, None] <= rank, over, over.T)

    def consistent(self, step: np.ndarray, at_risk: np.ndarray) -> np.ndarray:
        """Return the steps after a round of self-consistency (Turnbull 1976), which never loses likelihood."""
        running = np.append(0.0, np.cumsum(step))
        over = running[self.end] - running[self.first]
        gone = -np.expm1(-over)
        from_first = self.spread(self.failed * np.exp(running[self.first]) / gone)
        placed = np.exp(-running[:-1]) * -np.expm1(-step) * from_first
        later = np.exp(-running[1:]) * from_first - self.spread(self.failed * np.exp(-over) / gone)
        waiting = at_risk + np.maximum(later, 0.0)
        return np.where(at_risk > 0, np.log1p(np.maximum(placed, 0.0) / np.where(at_risk > 0, waiting, 1.0)), 0.0)

    def settled(self, at_risk: np.ndarray) -> Cells:
        """Return the cells without the failures that may fall where nobody is at risk: there they are certain and free."""
        is_free = np.append(0, np.cumsum(at_risk <= 0))
        is_open = is_free[self.end] == is_free[self.first]
        return replace(self, first=self.first[is_open], end=self.end[is_open], failed=self.failed[is_open])

    def collapse(self) -> int:
        """Return the latest cell by which all must have failed, as nobody is surely left; the count of cells if they need not."""
        last = np.maximum.accumulate(np.where(self.surely <= 0, np.arange(self.count), -1))[self.end - 1]
        return int(np.min(last[last >= self.first], initial=self.count))


def start(cells: Cells) -> np.ndarray:
    """Return steps after some rounds of self-consistency, failures spread evenly at first."""
    step = np.full(cells.count, 1 / cells.count)
    for _ in range(FIRST_ROUNDS):
        step = cells.consistent(step, cells.surely)
    return step


def climb(
    cells: Cells, step: np.ndarray, at_risk: np.ndarray, *, lifted: np.ndarray | None = None, level: float = LEVEL
) -> Climbed:
    """Return the steps of greatest likelihood with so many at risk, from steps that give every failure a place.

    level: of the gain in log-likelihood that is not worth another step.
    """
    lifted = np.zeros(cells.count) if lifted is None else lifted
    value, give = cells.value(step, at_risk), 0.0
    for _ in range(MOST_STEPS):
        slope, bends = cells.slope(step, at_risk)
        beside = np.concatenate([[0.0], slope, [0.0]])
        used = (step > 0) | ((slope > 0) & (slope >= np.maximum(beside[:-2], beside[2:])))
        if not used.any():
            break
        best = np.zeros(cells.count)
        best[used], give = _best(cells.bend(bends, used), step[used], slope[used], lifted[used])
        ahead = best - step
        gain = float(slope @ ahead)
        for halving in range(MOST_HALVINGS):
            trial = step + ahead * 0.5**halving
            gained = cells.value(trial, at_risk)
            if gained >= value + 1e-4 * gain * 0.5**halving:
                step, value = trial, gained
                break
        else:
            break
        if gain <= level:
            break
    return Climbed(step, give)


def _best(inner: np.ndarray, step: np.ndarray, slope: np.ndarray, lifted: np.ndarray) -> tuple[np.ndarray, float]:
    """Return better non-negative steps of the quadratic model, and what the lifted ones give way.

    Steps that would fall below 0 are left out at 0 one after another, as in least squares with non-negative coefficients
    (Lawson & Hanson 1974, from memory).
    """
    given = np.column_stack([inner @ step + slope, lifted])
    inner.flat[:: len(step) + 1] += (np.diag(inner) + 1.0) * RIDGE
    best, free = step.copy(), np.arange(len(step))
    while len(free):
        solved = np.linalg.solve(inner[free[:, None], free], given[free])
        target, now = solved[:, 0], best[free]
        is_below = target < 0
        if not is_below.any():
            best[free] = target
            return best, float(lifted[free] @ solved[:, 1])
        parts = np.full(len(free), np.inf)
        parts[is_below] = now[is_below] / (now - target)[is_below]
        part = parts.min()
        best[free] = np.maximum(now + part * (target - now), 0.0)
        best[free[parts <= part]] = 0.0
        free = free[parts > part]
    return best, 0.0
