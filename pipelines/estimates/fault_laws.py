"""The laws by which sticks come to a fault: Weibull since what opened the spell, by kind of it, families pooled; as draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require_columns
from pipelines.estimates.lives import LifeSpells, checked
from pipelines.estimates.pooled_life_grid import FamilyCounts, LifePosterior, life_posterior
from pipelines.vocabulary import Because

#: A kind of spell with fewer failures than this follows the law of all kinds together.
LEAST_FAILURES = 20


@dataclass(frozen=True)
class FaultLaws:
    """Cells: each kind of spell and group. log_shape, log_scale: (draws, cells), times in the clock's unit; middle_*: (cells,).

    because: why there are no laws; then there are no cells. borrowed: kinds that follow the law of all kinds together.
    """

    because: Because | None
    cells: dict[tuple, int]
    log_shape: np.ndarray
    log_scale: np.ndarray
    borrowed: tuple[str, ...]

    @property
    def middle_shape(self) -> np.ndarray:
        return np.exp(np.median(self.log_shape, axis=0))

    @property
    def middle_scale(self) -> np.ndarray:
        return np.exp(np.median(self.log_scale, axis=0))

    def expected(self, cell: np.ndarray, entry: np.ndarray, exit_at: np.ndarray) -> np.ndarray:
        """Return how many faults the middle law of its cell expects between two ages of each row."""
        shape, scale = self.middle_shape[cell], self.middle_scale[cell]
        return np.maximum((exit_at / scale) ** shape - (entry / scale) ** shape, 0.0)


def fault_laws(
    lives: pd.DataFrame, *, kinds: Sequence[str], groups: Sequence[tuple], by: Sequence[str], count: int,
    rng: np.random.Generator, min_failures: int = 6,
) -> FaultLaws:  # fmt: skip
    """Fit the laws of each kind of spell.

    lives: spells as in `weibull`, with `kind`, the columns of `by`, and `factor`: what multiplies the hazard of the unit, so that
    a law is that of a unit with factor 1, and not that of the units which happen to be in a kind.
    kinds, groups: whose laws are asked for, the groups as tuples in the order of `by`; one that was never seen follows what
    the others tell of such a one. count: draws.
    With fewer than LEAST_FAILURES a kind follows the law of all; without a law of all `because` says why. Raises InputError.
    """
    require_columns(lives, ["kind", "factor", *by])
    whole = _posterior(lives, by=by, min_failures=min_failures)
    if isinstance(whole, Because):
        return FaultLaws(whole, {}, np.empty((count, 0)), np.empty((count, 0)), ())
    cells, shapes, scales, borrowed = {}, [], [], []
    for kind in kinds:
        mine = lives[(lives["kind"] == kind).to_numpy()]
        found = _posterior(mine, by=by, min_failures=max(min_failures, LEAST_FAILURES))
        if isinstance(found, Because):
            found = whole
            borrowed.append(kind)
        posterior, place = found
        # (draws of a posterior come in the order of its nodes; the kinds are to go each its own way)
        order = rng.permutation(count)
        shape, scale = (np.log(one)[order] for one in posterior.draws(count))
        for group in groups:
            cells[(kind, *group)] = len(shapes)
            shapes.append(shape)
            scales.append(scale[:, place.get(_named(group), -1)])
    return FaultLaws(None, cells, np.column_stack(shapes), np.column_stack(scales), tuple(borrowed))


def _posterior(
    lives: pd.DataFrame, *, by: Sequence[str], min_failures: int
) -> tuple[LifePosterior, dict[tuple, int]] | Because:  # fmt: skip
    """Return the pooled posterior and the place of each group in it (one never seen is the last), or why there is none."""
    spells = checked(lives, by=by, entries=None)
    failures = int(spells.failures.sum())
    if not len(spells.count):
        return Because.NO_SPELLS
    if failures < min_failures:
        return Because.TOO_FEW_FAILURES if failures else Because.NO_FAILURES
    posterior = life_posterior(_weighed(spells, lives["factor"].to_numpy(dtype=float)))
    if posterior is None:
        return Because.FIT_FAILED
    return posterior, {_named(name): place for place, name in enumerate(spells.groups.tuples())}


def _weighed(spells: LifeSpells, factor: np.ndarray) -> FamilyCounts:
    """Return what each family tells, what was at risk counting as often as its factor says; failures count once."""
    plain = FamilyCounts.of(spells)
    if (factor == 1).all():
        return plain
    risk = FamilyCounts.of(replace(spells, count=spells.count * factor, entry_count=spells.entry_count * factor))
    return replace(plain, x=risk.x, weight=risk.weight, segments=risk.segments)


def _named(group: tuple) -> tuple:
    """Return the values of a group with one word for all that is missing, so that they can be looked up."""
    return tuple(None if pd.isna(value) else value for value in group)
