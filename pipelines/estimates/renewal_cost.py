"""Faults and planned cleans per hour, in the long run, of a stick that is cleaned some time after its last clean.

A stick of virtual age v has the cumulative hazard (v / scale)^shape; a clean leaves a share of that age. The gain equation of
the semi-Markov process from clean to clean, h(v) = count(v) − g·length(v) + E h(age after), is solved at a few ages, h being
a Chebyshev polynomial: for faults and for planned cleans at once, so that any costs go with one solution.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from pipelines.errors import InputError

#: Ages at which the equation holds (0 and the highest among them), and points of each stretch between two cleans.
AGES, POINTS = 8, 12
#: Ages are even in their root of this order: the young are more, and differ more.
BEND = 1.5
#: No stretch is followed further than this cumulative hazard: e^−30 is nothing.
LONGEST_HAZARD = 30.0
#: The highest age: that after so many stretches of this cumulative hazard, one after another. Few sticks come near.
HIGH_HAZARD, STRETCHES = 4.0, 25
#: So that what is nothing can be divided by.
SMALLEST = 1e-12
#: Policies that are worked out together: more would leave the processor's cache.
BLOCK = 500


@dataclass(frozen=True)
class Renewal:
    """How sticks age and what puts them right; numbers or arrays that fit each other (draws of what is not known for sure).

    shape, scale: of the virtual age; planned_kept, fault_kept: shares of age (0–1) that a planned clean, and one after a fault,
    leave; patched_share, replaced_share: of faults that a repair without a clean puts right, so that age and plan run on, and of
    those that a new part does (age 0); all others are cleaned. other_rate: faults of another kind that no clean prevents, per
    hour, each put right by a new part. Times in the clock's unit. Raises InputError on what cannot be.
    """

    shape: float | np.ndarray
    scale: float | np.ndarray
    planned_kept: float | np.ndarray
    fault_kept: float | np.ndarray
    patched_share: float | np.ndarray = 0.0
    replaced_share: float | np.ndarray = 0.0
    other_rate: float | np.ndarray = 0.0

    def __post_init__(self) -> None:
        for name in ("shape", "scale"):
            _require(getattr(self, name), name, lambda value: (value > 0) & np.isfinite(value))
        for name in ("planned_kept", "fault_kept", "patched_share", "replaced_share"):
            _require(getattr(self, name), name, lambda value: (value >= 0) & (value <= 1))
        _require(self.other_rate, "other_rate", lambda value: (value >= 0) & np.isfinite(value))
        put_right = np.asarray(self.patched_share) + np.asarray(self.replaced_share)
        _require(put_right, "patched_share + replaced_share", lambda value: value <= 1 + 1e-9)


def _require(value, name: str, is_possible) -> None:
    if not is_possible(np.asarray(value, dtype=float)).all():
        raise InputError(f"`{name}` is impossible.", "Shape and scale are over 0, shares from 0 to 1, a rate from 0.")


def long_run_rates(law: Renewal, after: float | np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return faults and planned cleans per unit of the clock, of the shape that the law's arrays and `after` have together.

    after: a planned clean comes so long after the last clean of whatever kind; over 0, infinite: never. Faults are of both
    kinds. Where nothing ever takes age off (kept shares of 1, no new parts) the rate over some 25 stretches stands for
    that of the long run, which does not exist. Right to 0.1 % at shapes from 1, to 1.5 % from 0.7.
    Raises InputError.   Sources: Barlow & Proschan (1965), chapter 4; Kijima (1989); Howard (1960) (from memory).
    """
    wait = np.asarray(after, dtype=float)
    if not (wait > 0).all():
        raise InputError("An interval is no time over 0.", "Give a time over 0, or infinity for never.")
    fields = [law.shape, law.scale, law.planned_kept, law.fault_kept, law.patched_share, law.replaced_share, law.other_rate]
    parts = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (*fields, wait)))
    rows = [one.reshape(-1) for one in parts]
    found = [_solved(*(one[start : start + BLOCK] for one in rows)) for start in range(0, len(rows[0]), BLOCK)]
    return tuple(np.concatenate(some).reshape(parts[0].shape) for some in zip(*found, strict=True))


def _solved(shape, scale, planned_kept, fault_kept, patched, replaced, other, after) -> tuple[np.ndarray, np.ndarray]:
    """Return both rates, one row a policy. Inside, the scale is the unit of time."""
    after, other_rate = after / scale, other * scale
    is_never = np.isinf(after)[:, None]
    wait = np.where(is_never, 1.0, after[:, None])
    ending = np.maximum(1 - patched, SMALLEST)
    highest = _highest(shape, np.maximum(planned_kept, fault_kept), ending, after)
    knots, points, weights = _places(AGES, POINTS)
    power, root = shape[:, None], 1 / shape[:, None, None]

    age = highest[:, None] * knots**BEND
    begun = age**power
    hazard = np.where(is_never, LONGEST_HAZARD, np.minimum(ending[:, None] * ((age + wait) ** power - begun), LONGEST_HAZARD))
    gone = -np.expm1(-hazard)
    until = (begun[:, :, None] - np.log1p(-gone[:, :, None] * points) / ending[:, None, None]) ** root - age[:, :, None]
    slow = np.maximum(other_rate, SMALLEST)[:, None]
    lost = -np.expm1(-slow[:, :, None] * until)  # chance of another kind of fault before
    chance = gone[:, :, None] * weights
    faulty = chance * (1 - lost)
    planned = np.where(is_never, 0.0, np.exp(-hazard)) * np.exp(-slow * wait)
    stopped = _summed(chance, lost) + np.where(is_never, 0.0, np.exp(-hazard)) * -np.expm1(-slow * wait)

    cleaned_of = np.maximum(ending - replaced, 0.0) / ending
    to_fault = _scaled(fault_kept[:, None, None] * (age[:, :, None] + until), highest)
    to_plan = _scaled(planned_kept[:, None] * (age + wait), highest)
    fault_chance = _summed(faulty)
    to_new = stopped + (1 - cleaned_of[:, None]) * fault_chance
    matrix = np.empty((len(shape), AGES, AGES))
    matrix[:, :, 0] = stopped / slow
    series = [_chebyshev(2 * one - 1) for one in (knots, to_fault, to_plan)]
    for degree in range(1, AGES):
        here, fault, plan = (next(one) for one in series)
        later = cleaned_of[:, None] * _summed(faulty, fault) + planned * plan + to_new * (-1) ** degree
        matrix[:, :, degree] = here - later
    counts = np.stack([fault_chance / ending[:, None], planned], axis=2)
    faults, cleans = np.linalg.solve(matrix, counts)[:, 0, :].T
    return faults / scale + other, cleans / scale


def _summed(*of: np.ndarray) -> np.ndarray:
    """Return the sums of the products over the points; einsum is four times as quick as sum over so short an axis."""
    return np.einsum(f"{','.join(['ijk'] * len(of))}->ij", *of)


def _scaled(age: np.ndarray, highest: np.ndarray) -> np.ndarray:
    return np.minimum(age / highest.reshape(-1, *[1] * (age.ndim - 1)), 1.0) ** (1 / BEND)


def _chebyshev(x: np.ndarray):
    """Yield the Chebyshev polynomials of degree 1, 2, … at x; their arrays are used again three degrees later."""
    before, now, after, twice = np.ones_like(x), x.copy(), np.empty_like(x), 2 * x
    while True:
        yield now
        np.multiply(twice, now, out=after)
        after -= before
        before, now, after = now, after, before


def _highest(shape: np.ndarray, kept: np.ndarray, ending: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Return an age after a clean that hardly any stick passes: each stretch adds to the hazard, each clean takes from it."""
    left = kept**shape
    lost = np.maximum(1 - left, SMALLEST)
    stretches = np.where(lost > 1e-9, left * (1 - left**STRETCHES) / lost, STRETCHES)
    age = (stretches * HIGH_HAZARD / ending) ** (1 / shape)
    with np.errstate(divide="ignore"):
        settled = np.where(kept > 0, after / np.maximum(1 / np.maximum(kept, SMALLEST) - 1, 0.0), 0.0)
    return np.maximum(np.minimum(age, settled), 1e-9)


@cache
def _places(ages: int, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the ages as shares of the highest, and points and weights in (0, 1) that crowd towards both ends."""
    knots = (1 - np.cos(np.pi * np.arange(ages) / (ages - 1))) / 2
    x, weights = np.polynomial.legendre.leggauss(count)
    x = (x + 1) / 2
    return knots, 1 - (1 - x**2) ** 3, 3 * weights * x * (1 - x**2) ** 2
