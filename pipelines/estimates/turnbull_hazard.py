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
    """The maximum. step: x of each cell; value: the log-likelihood; give: how fast the summed hazard of the lifted cells falls
    as more are at risk in them.
    """

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
        running = _running(values)
        return running.take(self.end) - running.take(self.first)

    def spread(self, values: np.ndarray) -> np.ndarray:
        """Return for each cell the sum of the intervals' values that cover it."""
        size = self.count + 1
        rises = np.bincount(self.first, weights=values, minlength=size)
        return (rises - np.bincount(self.end, weights=values, minlength=size)).cumsum()[:-1]

    def at(self, step: np.ndarray, at_risk: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        """Return the log-likelihood, and of each interval its hazard and the share that it takes."""
        over = self.over(step)
        gone = -np.expm1(-over)
        value = float(self.failed @ np.log(gone) - at_risk @ step) if over.min(initial=1.0) > 0 else -np.inf
        return value, over, gone

    def bend(self, bends: np.ndarray, used: np.ndarray) -> np.ndarray:
        """Return minus the second derivatives in the steps used: for each two, the bends of the intervals over both.

        Only the half on and above the diagonal is right.
        """
        place = _running(used, dtype=np.intp)
        size = int(place[-1])
        corner = np.bincount(place.take(self.first) * (size + 1) + place.take(self.end), weights=bends, minlength=(size + 1) ** 2)
        inside = corner.reshape(size + 1, size + 1)[:-1, 1:]
        return inside.cumsum(axis=0)[:, ::-1].cumsum(axis=1)[:, ::-1]

    def consistent(self, step: np.ndarray, at_risk: np.ndarray) -> np.ndarray:
        """Return the steps after a round of self-consistency (Turnbull 1976), which never loses likelihood."""
        running = _running(step)
        first = running.take(self.first)
        over = running.take(self.end) - first
        weight = self.failed / -np.expm1(-over)
        left = np.exp(-running)
        from_first = self.spread(weight * np.exp(first))
        placed = (left[:-1] - left[1:]) * from_first
        later = left[1:] * from_first - self.spread(weight * np.exp(-over))
        waiting = at_risk + np.maximum(later, 0.0)
        return np.where(at_risk > 0, np.log1p(np.maximum(placed, 0.0) / np.where(at_risk > 0, waiting, 1.0)), 0.0)

    def settled(self, at_risk: np.ndarray) -> Cells:
        """Return the cells without the failures that may fall where nobody is at risk: there they are certain and free."""
        if at_risk.min() > 0:
            return self
        is_free = _running(at_risk <= 0)
        is_open = is_free[self.end] == is_free[self.first]
        return replace(self, first=self.first[is_open], end=self.end[is_open], failed=self.failed[is_open])

    def collapse(self) -> int:
        """Return the latest cell by which all must have failed, as nobody is surely left; the count of cells if they need not."""
        last = np.maximum.accumulate(np.where(self.surely <= 0, np.arange(self.count), -1))[self.end - 1]
        return int(np.min(last[last >= self.first], initial=self.count))


def _running(values: np.ndarray, dtype: type = float) -> np.ndarray:
    """Return the sums of the values before each place, and of all."""
    running = np.zeros(len(values) + 1, dtype=dtype)
    values.cumsum(out=running[1:])
    return running


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
    beside = np.zeros(cells.count + 2)
    (value, over, gone), give = cells.at(step, at_risk), 0.0
    for _ in range(MOST_STEPS):
        pull = cells.failed * np.exp(-over) / gone
        bends = pull / gone
        beside[1:-1] = slope = cells.spread(pull) - at_risk
        used = (step > 0) | ((slope > 0) & (slope >= np.maximum(beside[:-2], beside[2:])))
        if not used.any():
            break
        goal = slope + cells.spread(bends * over)
        best = np.zeros(cells.count)
        place = used.nonzero()[0]
        best[place], give = _best(cells.bend(bends, used), step[place], goal[place], lifted[place])
        ahead = best - step
        gain = float(slope @ ahead)
        for halving in range(MOST_HALVINGS):
            part = 0.5**halving
            there, over, gone = cells.at(step + ahead * part, at_risk)
            if there >= value + 1e-4 * gain * part:
                step, value = step + ahead * part, there
                break
        else:
            break
        if gain <= level:
            break
    return Climbed(step, value, give)


def _best(inner: np.ndarray, step: np.ndarray, goal: np.ndarray, lifted: np.ndarray) -> tuple[np.ndarray, float]:
    """Return better non-negative steps of the quadratic model, and what the lifted ones give way.

    inner: upper half of minus the second derivatives; goal: what it times the best steps comes to.
    Steps that would fall below 0 are left out at 0 one after another, as in least squares with non-negative coefficients
    (Lawson & Hanson 1974, from memory).
    """
    from scipy.linalg.lapack import dposv

    diagonal = np.einsum("ii->i", inner)
    diagonal += (diagonal + 1.0) * RIDGE
    best, free, given = step.copy(), np.arange(len(step)), np.array([goal, lifted])
    while len(free):
        _, solved, failed = dposv(inner, given.T)
        if failed:
            break
        target, now = solved[:, 0], best[free]
        is_below = target < 0
        if not is_below.any():
            best[free] = target
            return best, float(given[1] @ solved[:, 1])
        parts = np.full(len(free), np.inf)
        parts[is_below] = now[is_below] / (now - target)[is_below]
        part = parts.min()
        best[free] = np.maximum(now + part * (target - now), 0.0)
        best[free[parts <= part]] = 0.0
        is_left = parts > part
        free, inner, given = free[is_left], inner[is_left][:, is_left], given[:, is_left]
    return best, 0.0
