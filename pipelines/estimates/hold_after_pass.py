"""The chance that a clean that passed, or a new part, holds over a warranty: as far as followed, families borrowing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipelines.estimates.counts import require_columns
from pipelines.estimates.durable import durable
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.pooled_share import PooledShares, pooled_share
from pipelines.estimates.triage import DRAWS
from pipelines.vocabulary import Because

#: Later cleans of one module are judged together with this one.
LAST_NUMBER = 3
#: New parts are drawn in another order than cleans: what is not known of the two is not the same.
SEED = 20_261_125


@dataclass(frozen=True)
class Holds:
    """Shares of passed cleans that hold `horizon` days, by family and how-many-th clean of the module."""

    horizon: float
    _shares: PooledShares

    def chance(self, family: str | None, attempt_number: int) -> Estimate:
        """Return the share with limits; a family not on record (or None) borrows from all, a number not on record from the
        cleans before it. Refused as `no_follow_up` where nobody was followed at all.
        """
        at = self._place(family, attempt_number)
        return Estimate.refused(Because.NO_FOLLOW_UP) if at is None else self._shares.cells[at].share

    def draws(self, family: str | None, attempt_number: int) -> np.ndarray | None:
        """Return draws of the share, (DRAWS,), the same in every call; None where it is refused."""
        at = self._place(family, attempt_number)
        return None if at is None else self._drawn[:, at]

    @cached_property
    def _drawn(self) -> np.ndarray:
        return self._shares.draws(DRAWS)

    def _place(self, family: str | None, attempt_number: int) -> int | None:
        cells = self._shares.cells
        families = {one.family for one in cells}
        family = family if family in families else None
        told = {one.method: at for at, one in enumerate(cells) if one.family == family and one.share.estimate is not None}
        before = [number for number in told if number <= attempt_number]
        return told[max(before)] if before else next(iter(told.values()), None)


@dataclass(frozen=True)
class PartHolds:
    """Shares of fitted modules that hold over the horizon, by family; `count` modules were watched, for however long."""

    count: int
    _holds: Holds

    def chance(self, family: str | None) -> Estimate:
        """Return the share with limits; a family not on record (or None) borrows from all. Refused as `Holds.chance`."""
        return self._holds.chance(family, 1)

    def draws(self, family: str | None) -> np.ndarray | None:
        """Return draws of the share, (DRAWS,), the same in every call; None where it is refused."""
        drawn = self._holds.draws(family, 1)
        return None if drawn is None else np.random.default_rng(SEED).permutation(drawn)


def part_hold(parts: pd.DataFrame, *, horizon: float, level: float = 0.95) -> PartHolds:
    """Estimate which share of fitted modules was still good after `horizon` days, as `hold_after_pass` does of first cleans.

    parts: counts per `family`, `at` (days watched), `is_failure`, `part_count`. Raises InputError.
    """
    require_columns(parts, ["part_count"])
    fitted = parts.rename(columns={"part_count": "attempt_count"}).assign(is_passed=True, attempt_number=1)
    return PartHolds(int(parts["part_count"].sum()), hold_after_pass(fitted, horizon=horizon, level=level))


def hold_after_pass(attempts: pd.DataFrame, *, horizon: float, level: float = 0.95) -> Holds:
    """Estimate which share of the cleans that passed was still good after `horizon` days.

    attempts: counts per `family`, `attempt_number`, `is_passed`, `at` (days followed), `is_failure`, `attempt_count`, as
    `durable` takes them; what failed its as-left test, or has no number, is left out.
    Raises InputError.   Method: the durable share of each family and number, (share · n_effective) of n_effective, pooled by
    `pooled_share`: the number is its method.
    """
    require_columns(attempts, ["family", "attempt_number", "is_passed"])
    passed = attempts[attempts["is_passed"].astype(bool) & attempts["attempt_number"].notna()]
    number = np.minimum(passed["attempt_number"].to_numpy(dtype=np.int64), LAST_NUMBER)
    families = [one for one in pd.unique(attempts["family"]) if pd.notna(one)]
    kept = durable(passed.assign(attempt_number=number), by=["attempt_number", "family"], horizon=horizon, level=level)
    rows = [(*one.by, one.share * one.n_effective, one.n_effective) for one in kept if one.n_effective is not None]
    # also asked for: cells that nobody was followed in, and a family not on record
    asked = [(number, family, 0.0, 0.0) for number in range(1, LAST_NUMBER + 1) for family in (*families, None)]
    cells = pd.DataFrame(rows + asked, columns=["method", "family", "k", "n"])
    cells["k"] = np.minimum(cells["k"], cells["n"])
    return Holds(horizon, pooled_share(cells, level=level))
