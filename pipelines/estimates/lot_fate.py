"""What becomes of the units of a lot: works as found, cleaned, new part or scrap.

Three nested shares, each pooled over past lots: works of all units, cleaned of those that do not work, new part of the rest.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from numbers import Real

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import group, require, require_columns, whole_counts
from pipelines.estimates.crossed_share import CrossedShares, crossed_share
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.lot_luck import SharedLuck, shared_luck
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.weighted import mean, quantile
from pipelines.vocabulary import Because, Fate

#: The fates of finished units, from best to worst: the last axis of all draws.
FATES = (Fate.WORKS, Fate.CLEANED, Fate.NEW_PART, Fate.SCRAP)
#: Each stage of the split is the share of units that reach it and go no further down.
STAGES = FATES[:3]
NODES, PARTS = np.polynomial.hermite_e.hermegauss(7)
PARTS = PARTS / PARTS.sum()


@dataclass(frozen=True)
class ExpectedFate:
    """Expected units of one family (None: of the whole lot) with one fate (None: all that can be sold), and limits for the
    number that will come out."""

    family: Hashable | None
    fate: Fate | None
    units: Estimate


@dataclass(frozen=True)
class LotFates:
    """The posterior of fates, from `units` finished units of `lots` past lots.

    because: why nothing is drawn (`no_past_lots`, `too_large`), else None. stages: the three shares, none where refused as too
    large; luck: how far a lot's luck goes together over them, None there.
    """

    lots: int
    units: int
    because: Because | None
    stages: tuple[CrossedShares, ...]
    luck: SharedLuck | None

    @property
    def is_prior_led(self) -> bool:
        """One lot does not tell how much lots differ."""
        return self.lots < 2

    def is_borrowed(self, *, condition: Hashable, family: Hashable, seller: Hashable | None = None) -> bool:
        """Tell whether condition, family or seller was never seen, so that the other lots tell of it."""
        return self.stages[0].is_borrowed(condition=condition, family=family, seller=seller)

    def draws(
        self,
        mix: Mapping[Hashable, int],
        *,
        condition: Hashable,
        seller: Hashable | None = None,
        count: int,
        rng: np.random.Generator,
    ) -> np.ndarray:
        """Return draws of the numbers of units of a new lot, (count, families in the order of `mix`, FATES).

        mix: family → units; seller None: any seller.
        Raises InputError on a mix without units, or one that is not of whole numbers over 0, and where `because` is set.
        """
        units_of(mix)
        return split(mix, self.shares(list(mix), condition=condition, seller=seller, count=count, rng=rng), rng)

    def shares(
        self, families: list, *, condition: Hashable, seller: Hashable | None = None, count: int, rng: np.random.Generator
    ) -> np.ndarray:  # fmt: skip
        """Return draws of the shares of a new lot at the three stages, (count, families, STAGES): what `split` takes.

        Raises InputError where `because` is set.
        """
        self._require_past()
        listing = {"condition": condition, "families": families, "seller": seller, "count": count, "rng": rng}
        luck = self.luck.draws(count, rng)
        return np.stack([one.draws(**listing, luck=luck[:, at]) for at, one in enumerate(self.stages)], axis=-1)

    def averages(self, families: list, *, condition: Hashable, count: int, rng: np.random.Generator) -> np.ndarray:
        """Return draws of the average split of families over all sellers and lots, (count, families, FATES); sums are 1.

        Raises InputError where `because` is set.
        """
        self._require_past()
        listing = {"condition": condition, "families": families, "count": count, "rng": rng}
        correlation = self.luck.correlations(count, rng)[:, None]
        stages = [stage.typical(**listing) for stage in self.stages]
        found = np.zeros((count, len(families), len(FATES)))
        for z, part in zip(NODES, PARTS, strict=True):
            left = np.full((count, len(families)), part)
            for number, (logit, seller_sd, lot_sd) in enumerate(stages):
                apart_sd = np.sqrt(seller_sd**2 + (1 - correlation) * lot_sd**2)
                share = _averaged(logit + np.sqrt(correlation) * lot_sd * z, apart_sd)
                found[:, :, number] += left * share
                left = left * (1 - share)
            found[:, :, -1] += left
        return found

    def _require_past(self) -> None:
        if self.because is not None:
            raise InputError("Nothing is known of the fates of units.", "Record the results of at least one lot first.")


def lot_fates(rows: pd.DataFrame) -> LotFates:
    """Estimate what becomes of units of lots.

    rows: finished units, counts by `condition`, `family`, `seller`, `lot`, `fate` (of `Fate`; open ones are left out): `units`.
    Blanks as in `crossed_share`. Without finished units: `no_past_lots`; over 400 families: `too_large`.
    A lot that is only partly finished counts with what is finished, which is fair only where the bench takes units as they come.
    The luck of a lot goes together over the three stages as far as the record tells; what families, conditions and sellers
    differ by is taken to be independent from stage to stage.
    Raises InputError on a fate that does not exist or a broken count.
    """
    require_columns(rows, ["condition", "family", "seller", "lot", "fate", "units"])
    units, fate = whole_counts(rows, "units"), rows["fate"].astype(object)
    require(fate.isin(list(Fate)).to_numpy(), "`fate` holds another word", "Give works, cleaned, new_part, scrap or open.")
    # Whatever the sellers call their lots, each has a number of its own.
    rows = rows.assign(lot=group([rows], by=["seller", "lot"]).codes[0])
    stages = []
    for number, stage in enumerate(STAGES):
        n = np.where(fate.isin(FATES[number:]), units, 0)
        found = crossed_share(rows.assign(k=np.where(fate == stage, n, 0), n=n))
        if isinstance(found, Because):
            return LotFates(0, int(n.sum()), found, (), None)
        stages.append(found)
    luck = shared_luck([stage.luck for stage in stages])
    return LotFates(stages[0].lots, int(stages[0].n), stages[0].because, tuple(stages), luck)


def expected_fates(
    units: np.ndarray, mix: Mapping[Hashable, int], *, weights: np.ndarray | None = None, level: float = 0.8
) -> list[ExpectedFate]:
    """Describe draws of fates: units of each family and fate, then of the whole lot, with what can be sold (fate None) last.

    units: as `LotFates.draws` gives them; weights: of the draws, where a test has changed them.
    """
    normal_quantile(level)
    tail = (1 - level) / 2
    whole = units.sum(axis=1, keepdims=True)
    parts = np.concatenate([units, whole], axis=1)
    parts = np.concatenate([parts, parts[:, :, :3].sum(axis=2, keepdims=True)], axis=2)
    low, high = quantile(parts, tail, weights=weights), quantile(parts, 1 - tail, weights=weights)
    middle = mean(parts, weights=weights)
    return [
        ExpectedFate(family, fate, Estimate(*(float(one[row, column]) for one in (middle, low, high))))
        for row, family in enumerate([*mix, None])
        for column, fate in enumerate([*FATES, None])
    ]


def split(mix: Mapping[Hashable, int], shares: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return draws of the numbers of units by fate, (count, families, FATES), from draws of the shares at the three stages.

    Raises InputError on a mix without units, or one that is not of whole numbers over 0.
    """
    left = np.broadcast_to(units_of(mix), shares.shape[:2])
    found = np.empty((*shares.shape[:2], len(FATES)), dtype=np.int64)
    for at in range(len(STAGES)):
        found[:, :, at] = rng.binomial(left, shares[:, :, at])
        left = left - found[:, :, at]
    found[:, :, -1] = left
    return found


def units_of(mix: Mapping[Hashable, int]) -> np.ndarray:
    """Return the units of a mix, in its order. Raises InputError unless all are whole numbers over 0."""
    if not mix:
        raise InputError("The mix of the lot is empty.", "Name at least one family and its units.")
    for family, units in mix.items():
        if isinstance(units, bool) or not isinstance(units, Real) or not 0 < units < 1e6 or units != int(units):
            raise InputError(f"{units} units of {family} cannot be bought.", "Give whole numbers from 1 to 999,999.")
    return np.array([int(units) for units in mix.values()])


def _averaged(logit: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Return the share averaged over a logit that is normal with this mean and SD."""
    return sum(part / (1 + np.exp(-(logit + sd * z))) for z, part in zip(NODES, PARTS, strict=True))
