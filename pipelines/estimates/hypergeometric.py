"""Drawing without putting back: how many of the units tested are found, given how many the lot holds."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor

import numpy as np

from pipelines.errors import InputError

#: A share of a lot that misses a whole number of units by less is that number; chances that differ by less are equal.
ROUNDING = 1e-9


def chance(found: np.ndarray | int, *, lot_count: int, held_count: np.ndarray | int, tested_count: int) -> np.ndarray:
    """Return the chance of finding exactly `found` among `tested_count` of `lot_count` units, `held_count` of which are such.

    found, held_count: of shapes that go together; the answer has their common shape, 0 where it cannot be.
    Right to about 1e-12 for lots of thousands.
    """
    found, held = np.broadcast_arrays(np.asarray(found), np.asarray(held_count))
    other = lot_count - held
    missed = tested_count - found
    can_be = (found >= 0) & (missed >= 0) & (found <= held) & (missed <= other)
    k, m = np.where(can_be, found, 0), np.where(can_be, missed, 0)
    have, rest = np.where(can_be, held, 0), np.where(can_be, other, 0)
    ways = _log_choose(have, k) + _log_choose(rest, m) - _log_choose(np.array(lot_count), np.array(tested_count))
    return np.where(can_be, np.exp(ways), 0.0)


def chance_at_most(found: int, *, lot_count: int, held_count: np.ndarray | int, tested_count: int) -> np.ndarray:
    """Return the chance of finding at most `found`, of the shape of `held_count`; from `found` = −1 downwards it is 0."""
    held = np.asarray(held_count)
    if found >= tested_count:
        return np.ones(held.shape)
    each = chance(np.arange(found + 1), lot_count=lot_count, held_count=held[..., None], tested_count=tested_count)
    return np.minimum(each.sum(axis=-1), 1.0)


def units_from(share: float, lot_count: int) -> int:
    """Return the fewest units that are at least this share of the lot."""
    return ceil(share * lot_count - ROUNDING)


def units_up_to(share: float, lot_count: int) -> int:
    """Return the most units that are at most this share of the lot."""
    return floor(share * lot_count + ROUNDING)


def require_tested(good_found: Sequence[int] | int, *, tested_count: Sequence[int] | int, lot_count: Sequence[int] | int) -> None:
    """Raise InputError unless 0 <= good found <= tested <= in the lot, whole numbers all, and the lot holds a unit."""
    for k, n, size in zip(*(np.ravel(one).tolist() for one in (good_found, tested_count, lot_count)), strict=True):
        require_count(k, n, size)
        if size < 1:
            raise InputError(f"A lot of {size} units is none.", "Give the number of units in the lot.")
        if n > size:
            raise InputError(f"{n} units tested of a lot of {size}.", "Test no more units than the lot holds.")
        if not 0 <= k <= n:
            raise InputError(f"{k} good of {n} units tested.", "Count the good units among those tested.")


def require_count(*numbers: float) -> None:
    """Raise InputError unless the numbers are whole and not negative."""
    for number in numbers:
        if not (np.isfinite(number) and number >= 0 and number == int(number)):
            raise InputError(f"{number} is not a number of units.", "Give whole numbers from 0 on.")


def _log_choose(of: np.ndarray, take: np.ndarray) -> np.ndarray:
    from scipy.special import gammaln

    return gammaln(of + 1.0) - gammaln(take + 1.0) - gammaln(of - take + 1.0)
