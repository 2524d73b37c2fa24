"""What a test of some units says of a whole lot, and of the units not tested."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.hypergeometric import ROUNDING, chance, chance_at_most, require_tested
from pipelines.estimates.proportion import normal_quantile
from pipelines.vocabulary import Because

#: Under so many effective draws limits are mostly chance: draw anew, more.
LEAST_EFFECTIVE = 200


@dataclass(frozen=True)
class LotAfterTest:
    """A lot after its test.

    weights: one a draw, adding up to 1: what each draw of the lot counts for after the test. effective_draws: 1 / Σ weight²,
    as many equal draws would say as much; draws_needed: how many draws would leave 200 effective, None where no draw can have
    given such a test, so the test contradicts what was drawn from. found_at_most_chance: before the test, the chance of finding
    so few good or fewer, by family in the order given; near 0 the lot is worse than it was drawn to be, near 1 better.
    good_count, rest_good_count: good units in the lot and among those not tested, all families together (median and limits);
    mean_good_count: the expected number in the lot. Under 200 effective draws these are refused with `too_few_draws`.
    """

    weights: np.ndarray
    effective_draws: float
    draws_needed: int | None
    found_at_most_chance: tuple[float, ...]
    good_count: Estimate
    rest_good_count: Estimate
    mean_good_count: float | None
    because: Because | None

    def pick(self) -> np.ndarray:
        """Return as many places of draws as there are, each as often as its weight says: equal draws of the tested lot.

        Nothing is random in it (systematic resampling from the middle of each step). Values drawn with the lots are picked by
        the same places. What is read off them is no surer than from `effective_draws`.
        """
        size = len(self.weights)
        if not self.weights.any():
            raise InputError("No draw can have given this test.", "Draw the lot anew from a wider prior.")
        ends = np.cumsum(self.weights)
        return np.searchsorted(ends / ends[-1], (np.arange(size) + 0.5) / size, side="right")


def lot_after_test(
    good: np.ndarray, *, lot_count: int | Sequence[int], tested_count: int | Sequence[int], good_found: int | Sequence[int],
    level: float = 0.95,
) -> LotAfterTest:  # fmt: skip
    """Weigh draws of how many units of a lot are good by what a test of some of its units found.

    good: draws of the number good, (draws,) or (draws, families), from whatever was known before the test; the other
    three: units in the lot, units tested (picked blindly, each judged without error) and good ones among them, for each
    family. The weight of a draw is the product over families of the hypergeometric chance of what was found.
    Raises InputError where they do not belong together.
    Source: Bayes; importance weights and their effective number as in Kong, Liu & Wong (1994) (from memory).
    """
    normal_quantile(level)
    draws = np.asarray(good)
    draws = draws[:, None] if draws.ndim == 1 else draws
    numbers = [np.ravel(one) for one in (lot_count, tested_count, good_found)]
    if draws.ndim != 2 or not len(draws) or not all(one.shape == (draws.shape[1],) for one in numbers):
        raise InputError("Draws and test are not of the same families.", "Give one column of draws, and one test, a family.")
    size, tested, found = numbers
    require_tested(found, tested_count=tested, lot_count=size)
    if not ((draws >= 0) & (draws <= size) & (draws == np.floor(draws))).all():
        raise InputError("Some draws are no number of units of the lot.", "Draw whole numbers from 0 to the lot size.")
    draws = draws.astype(np.int64)
    log_weight, fewer_chances = np.zeros(len(draws)), []
    for column, *one in zip(draws.T, size.tolist(), tested.tolist(), found.tolist(), strict=True):
        held, place = np.unique(column, return_inverse=True)
        log_exactly, fewer = _chances(held, *one)
        log_weight += log_exactly[place]
        fewer_chances.append(float(fewer[place].mean()))
    weights, effective, needed = np.zeros(len(draws)), 0.0, None
    if log_weight.max() > -np.inf:
        weights = np.exp(log_weight - log_weight.max())
        weights /= weights.sum()
        effective = float(1 / (weights**2).sum())
        needed = ceil(LEAST_EFFECTIVE * len(draws) / effective)
    state = weights, effective, needed, tuple(fewer_chances)
    if effective < LEAST_EFFECTIVE:
        refused = Estimate.refused(Because.TOO_FEW_DRAWS)
        return LotAfterTest(*state, refused, refused, None, Because.TOO_FEW_DRAWS)
    whole = draws.sum(axis=1)
    tail = (1 - level) / 2
    limits = np.quantile(whole, [0.5, tail, 1 - tail], weights=weights, method="inverted_cdf")
    rest = limits - found.sum()
    return LotAfterTest(*state, Estimate(*limits.tolist()), Estimate(*rest.tolist()), float(whole @ weights), None)


def good_in_lot(good_found: int, *, tested_count: int, lot_count: int, level: float = 0.95) -> Estimate:
    """Return the number of good units in a lot from its test alone, with exact limits that hold at least at the level.

    The estimate is lot_count · good_found / tested_count; nothing tested gives `no_attempts`. Raises InputError.
    Source: inversion of the two one-sided hypergeometric tests, Buonaccorsi (1987), The American Statistician 41:215–218
    (from memory).
    """
    normal_quantile(level)
    require_tested(good_found, tested_count=tested_count, lot_count=lot_count)
    if tested_count == 0:
        return Estimate.refused(Because.NO_ATTEMPTS)
    tail = (1 - level) / 2
    least, most = good_found, lot_count - tested_count + good_found
    held = range(least, most + 1)
    # The chance of so many or more good rises with what the lot holds, that of so few or fewer falls.
    low = held[bisect_left(held, True, key=lambda one: at_least(good_found, tested_count, lot_count, one) > tail + ROUNDING)]
    over = bisect_left(held, True, key=lambda one: at_most(good_found, tested_count, lot_count, one) <= tail + ROUNDING)
    return Estimate(lot_count * good_found / tested_count, float(low), float(held[over - 1]))


def at_most(good_found: int, tested_count: int, lot_count: int, held_count: int) -> float:
    """Return the chance that a test finds at most so many good in a lot that holds `held_count`."""
    return float(chance_at_most(good_found, lot_count=lot_count, held_count=held_count, tested_count=tested_count))


def at_least(good_found: int, tested_count: int, lot_count: int, held_count: int) -> float:
    """Return the chance that a test finds at least so many good in a lot that holds `held_count`."""
    return at_most(tested_count - good_found, tested_count, lot_count, lot_count - held_count)


def _chances(held: np.ndarray, lot_count: int, tested_count: int, good_found: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the log chance of exactly and the chance of at most so many good, by the number good in the lot."""
    exactly = chance(good_found, lot_count=lot_count, held_count=held, tested_count=tested_count)
    with np.errstate(divide="ignore"):
        log_exactly = np.log(exactly)
    return log_exactly, chance_at_most(good_found, lot_count=lot_count, held_count=held, tested_count=tested_count)
