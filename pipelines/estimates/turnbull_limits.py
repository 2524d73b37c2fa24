"""Likelihood-ratio limits of the hazard summed over some cells of Turnbull's curve.

The most likely steps with a given sum are those with more, or fewer, at risk in the cells summed over (Thomas & Grunkemeier
1975, from memory), so one number is looked for: the lift of those at risk. The greatest likelihood with a given sum is
concave in it and the lift is its slope: a line of that slope bounds it from above and the chord of two sums from below.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pipelines.estimates.turnbull_hazard import Cells, climb

MOST_LIFTS = 60
#: The last bit, of the root of the drop, is done by the parabola; what is left is its cube.
ROUGHLY = 0.06
#: Chord and tangent agree on the sum to this share of it.
CLOSE = 1e-3
#: After a step that gains so little, as a share of the drop, what another would gain is about its square.
LEVEL_SHARE = 0.02
#: The lift is e^turn − 1 times those at risk, or e^−turn − 1; one of e^30 forces the steps to 0, if anything does.
FIRST_TURN, LARGEST_TURN = 0.3, 30.0
#: Of those at risk, what a lift leaves at the least.
SMALLEST_SHARE = 1e-13


class Lift(NamedTuple):
    """Where the search for one limit ended: the summed hazard, and where the next search may begin."""

    hazard: float
    turn: float
    step: np.ndarray


class Place(NamedTuple):
    """A point of the greatest likelihood with a given sum: the sum and the likelihood."""

    hazard: float
    value: float


def limit(
    cells: Cells, top: np.ndarray, value: float, lifted: np.ndarray, *, drop: float, is_longer: bool, near: Lift | None = None
) -> Lift:
    """Return the largest (`is_longer`: the smallest) summed hazard of the lifted cells (0 or 1) within `drop` of the maximum.

    top, value: the most likely steps, inf where all fail, and their log-likelihood. near: the search of a neighbouring set.
    """
    turn, step = (near.turn, near.step) if near else (FIRST_TURN, np.where(top < np.inf, top, 0.0))
    least, summed = float(cells.surely[lifted > 0].min()), float(top[lifted > 0].sum())
    if not is_longer and least <= 0:
        return Lift(np.inf, turn, step)
    if is_longer and not summed > 0:
        return Lift(0.0, turn, step)
    scale, sign = (max(least, 1.0), 1.0) if is_longer else (least, -1.0)
    cells = cells.settled(cells.surely + lifted * is_longer)
    step = np.where((lifted > 0) & (cells.surely <= 0) & (step <= 0), 1.0, step)
    goal, goal_value = np.sqrt(2 * drop), value - drop
    inside, outside, shortest, longest = Place(summed, value), None, 0.0, np.inf
    for _ in range(MOST_LIFTS):
        lift = scale * np.expm1(sign * turn)
        at_risk = cells.surely + lift * lifted
        step, lifted_value, give = climb(cells, cells.consistent(step, at_risk), at_risk, lifted=lifted, level=LEVEL_SHARE * drop)
        hazard = float(lifted @ step)
        here = Place(hazard, lifted_value + lift * hazard)
        root = np.sqrt(max(2 * (value - here.value), 0.0))
        tangent = here.hazard + (goal_value - here.value) / lift
        if root < goal:
            inside, shortest = here, turn
        else:
            outside, longest = here, turn
        if root < goal and (turn >= LARGEST_TURN or (is_longer and here.hazard <= 0)):
            # The sum comes to 0 before the drop is reached, or beyond here the likelihood is a line in the sum.
            tangent = 0.0 if is_longer else tangent
            break
        chord = _chord(inside, outside, goal_value) if outside else None
        is_close = chord is not None and abs(tangent - chord) <= CLOSE * max(chord, CLOSE)
        if is_close:
            break
        if abs(root - goal) < ROUGHLY * goal:
            tangent = here.hazard + _parabola(goal_value - here.value, lift, give)
            break
        bound = min(longest, 3 * turn + 0.1, LARGEST_TURN)
        pace = abs(lift) * give * (scale + lift)
        ahead = turn + (goal - root) * root / pace if pace > 0 and root > 0 else bound
        if not shortest < ahead < bound and chord is not None:
            slope = (inside.value - outside.value) / (inside.hazard - outside.hazard)
            ahead = sign * np.log1p(max(slope / scale, SMALLEST_SHARE - 1))
        if not shortest < ahead < bound:
            ahead = bound if outside is None else (shortest + longest) / 2
        turn = ahead
    return Lift(max(tangent, 0.0), turn, step)


def _chord(inside: Place, outside: Place, value: float) -> float | None:
    """Return the sum at which the line through two places has the value; None where no line is."""
    if inside.hazard in (np.inf, outside.hazard) or inside.value <= outside.value:
        return None
    part = (inside.value - value) / (inside.value - outside.value)
    return inside.hazard + part * (outside.hazard - inside.hazard)


def _parabola(gain: float, slope: float, give: float) -> float:
    """Return the step at which the likelihood has gained so much, by its slope and how far a step lowers that."""
    turn = slope**2 - 2 * gain / give if give > 0 else -1.0
    return give * (slope - np.copysign(np.sqrt(turn), slope)) if turn > 0 else gain / slope
