"""What testing some units is worth before a decision: the gain it brings on average, less what it costs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.errors import InputError
from pipelines.estimates.hypergeometric import chance, require_count, require_tested


@dataclass(frozen=True)
class ValueOfTesting:
    """What tests of 0, 1, 2 … units are worth, all money in the unit of `gain`.

    worth: the expected gain that the result brings (value of sample information), by the number tested from 0 on, never
    negative; net: less the cost of the tests; worth_error: standard error of `worth` from the number of draws.
    best_count: the number with the highest net, the fewest of equals; 0 where no test pays. act_from: after best_count tests
    acting is right from so many good on; None where best_count is 0. gain: expected, of acting without a test.
    perfect: worth of knowing how many units are good, which no test exceeds. `net[n + 1] − net[n]` is the value of testing
    one more when n are planned; after a test ask anew with its weights and what is left of the lot, where `net[1]` is it.
    """

    worth: np.ndarray
    worth_error: np.ndarray
    net: np.ndarray
    best_count: int
    act_from: int | None
    gain: float
    perfect: float


def value_of_testing(
    gain: np.ndarray, good: np.ndarray, *, lot_count: int, cost_per_unit: float, most: int = 30,
    weights: np.ndarray | None = None,
) -> ValueOfTesting:  # fmt: skip
    """Return what it is worth to test up to `most` units (no more than the lot holds) before acting or leaving it.

    gain: (draws,) what acting brings over leaving it: for buying the value of the lot less its price, for keeping a lot its
    value less the refund. good: (draws,) how many of its `lot_count` units are good in the same draw. cost_per_unit: of one
    test, whatever is then done. weights: of the draws after an earlier test, as `LotAfterTest.weights`; then lot_count and
    good are those of the units not yet tested. For a mix, test one family: its units, its good ones, the gain of the lot.
    Acting is by the expected gain, so a limit on the chance of a loss is not in it. One unit alone may be worth nothing where
    several together are worth much. Raises InputError.
    Source: preposterior analysis, Raiffa & Schlaifer (1961) (from memory).
    """
    gains, held, weight = _checked(gain, good, lot_count=lot_count, weights=weights)
    require_count(most)
    if not (np.isfinite(cost_per_unit) and cost_per_unit >= 0):
        raise InputError(f"A test that costs {cost_per_unit}.", "Give what it costs to test one unit, 0 or more.")
    # All that matters of the draws is what they add up to for each number of good units.
    values, place = np.unique(held, return_inverse=True)
    first = np.bincount(place, weights=weight * gains)
    second = np.bincount(place, weights=(weight * gains) ** 2)
    total = float(first.sum())
    sizes = np.arange(min(most, lot_count) + 1)
    worth, error, act_from = np.zeros(len(sizes)), np.zeros(len(sizes)), []
    for size in sizes.tolist():
        result = chance(np.arange(size + 1)[:, None], lot_count=lot_count, held_count=values, tested_count=size)
        is_act = result @ first > 0
        # The chance that the result changes the decision, by number good.
        change = -(~is_act @ result) if total > 0 else is_act @ result
        worth[size] = max(0.0, float(change @ first))
        error[size] = np.sqrt(max(0.0, float(change**2 @ second) - worth[size] ** 2 * float((weight**2).sum())))
        act_from.append(_act_from(is_act, result.any(axis=1)))
    net = worth - cost_per_unit * sizes
    best = int(np.argmax(net))
    perfect = float(np.maximum(first, 0).sum()) - max(0.0, total)
    return ValueOfTesting(worth, error, net, best, act_from[best] if best else None, total, max(0.0, perfect))


def _checked(
    gain: np.ndarray, good: np.ndarray, *, lot_count: int, weights: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return gains, numbers good and weights that add up to 1, one a draw."""
    gains, held = np.asarray(gain, dtype=float), np.asarray(good)
    weight = np.ones(len(gains)) if weights is None else np.asarray(weights, dtype=float)
    require_tested(0, tested_count=0, lot_count=lot_count)
    if not (gains.ndim == 1 and len(gains) and gains.shape == held.shape == weight.shape):
        raise InputError("Gains, good units and weights are not of the same draws.", "Give one of each a draw.")
    if not (np.isfinite(gains).all() and (weight >= 0).all() and 0 < weight.sum() < np.inf):
        raise InputError("Some gains or weights are no numbers, or all weights are 0.", "Draw the lot anew.")
    is_kept = weight > 0
    gains, held, weight = gains[is_kept], held[is_kept], weight[is_kept]
    if not ((held >= 0) & (held <= lot_count) & (held == np.floor(held))).all():
        raise InputError("Some draws are no number of units of the lot.", "Draw whole numbers from 0 to the lot size.")
    return gains, held.astype(np.int64), weight / weight.sum()


def _act_from(is_act: np.ndarray, can_be: np.ndarray) -> int | None:
    """Return the fewest good from which acting is right whatever more are good, among the results that can be."""
    found = np.flatnonzero(can_be)
    wrong = np.flatnonzero(~is_act[found])
    first = 0 if not len(wrong) else int(wrong[-1]) + 1
    return int(found[first]) if first < len(found) else None
