"""Which share of a lot's sold units comes back under warranty; lots differ in it by condition, family, seller, and beyond."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import require, require_columns, times, whole_counts
from pipelines.estimates.crossed_share import CrossedShares, crossed_share
from pipelines.estimates.lot_fate import NODES, PARTS
from pipelines.estimates.lot_inputs import DrawnShare
from pipelines.estimates.survival import survival
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class LotReturns:
    """The posterior of the share of sold units that come back within so many days of the sale, from past lots.

    share: of all past sales (Kaplan–Meier); followed: as how many sales watched to the last day they tell.
    """

    share: float
    followed: float
    shares: CrossedShares

    def of_lot(
        self, conditions: Mapping[Hashable, Hashable], *, seller: Hashable | None, count: int, rng: np.random.Generator
    ) -> DrawnShare:
        """Draw the shares of a new lot. conditions: family → its stated condition, one column each; families of one condition
        share the luck of the lot. seller None: any seller."""
        found = np.empty((count, len(conditions)))
        for condition in dict.fromkeys(conditions.values()):
            places = [place for place, one in enumerate(conditions.values()) if one == condition]
            own = [list(conditions)[place] for place in places]
            found[:, places] = self.shares.draws(condition=condition, families=own, seller=seller, count=count, rng=rng)
        return DrawnShare(found, self.followed)

    def on_average(
        self, families: Sequence[Hashable], *, condition: Hashable, count: int, rng: np.random.Generator
    ) -> DrawnShare:
        """Draw the families' shares averaged over all sellers and lots."""
        logit, seller_sd, lot_sd = self.shares.typical(condition=condition, families=families, count=count, rng=rng)
        spread = np.sqrt(seller_sd**2 + lot_sd**2)
        found = sum(part / (1 + np.exp(-(logit + spread * z))) for z, part in zip(NODES, PARTS, strict=True))
        return DrawnShare(found, self.followed)


def lot_returns(sales: pd.DataFrame, *, days: float) -> LotReturns | Because:
    """Estimate which share of the sold units of a lot comes back within `days` of the sale.

    sales: counts by `condition`, `family`, `seller`, `lot` (blanks as in `crossed_share`), `days` (over 0: from the sale to the
    return, or to the end of the watch) and `is_returned`: `sale_count`.
    A sale not watched to the last day counts as the odds that one has come back by its own last day over those at `days`, both
    of all sales together; by days where none came back. So the returns of all over these counts are 1 − Kaplan–Meier.
    Without sales `no_past_lots`; where none was watched to the last day and not all came back `no_follow_up`; of more than 400
    families `too_large`. Raises InputError on times or days that are none.
    Method: the score of a lot's share at that of all, for a law of days that all lots have in common; Efron (1967),
    self-consistency of Kaplan–Meier (from memory).
    """
    if not 0 < days < np.inf:
        raise InputError(f"A warranty of {days} days is none.", "Ask for one day or more.")
    require_columns(sales, ["condition", "family", "seller", "lot", "days", "is_returned", "sale_count"])
    sales = sales[whole_counts(sales, "sale_count") > 0]
    watched, count = times(sales, "days"), sales["sale_count"].to_numpy(dtype=float)
    require((watched > 0) & np.isfinite(watched), "`days` is no length of time", "Give half a day for the day of the sale.")
    if not len(sales):
        return Because.NO_PAST_LOTS
    is_back = sales["is_returned"].to_numpy(dtype=bool)
    spells = pd.DataFrame({"entry": 0.0, "at": watched, "is_failure": is_back, "spell_count": sales["sale_count"]})
    curve = survival(spells, by=())
    left = curve["surviving_share"].to_numpy()
    kept, *kept_then = left[np.searchsorted(curve["at"].to_numpy(), np.append(days, np.minimum(watched, days)), side="right") - 1]
    if kept > 0 and not (watched >= days).any():
        return Because.NO_FOLLOW_UP
    is_back &= watched <= days
    part = np.minimum(watched, days) / days
    if kept < 1:
        # Who was at risk and did not come back leaves some over, so this divides by 0 for those who came back alone.
        kept_then = np.where(is_back, 1.0, kept_then)
        part = (1 - kept_then) / kept_then * kept / (1 - kept)
    n = np.where(is_back, count, count * part)
    shares = crossed_share(sales.assign(k=np.where(is_back, count, 0.0), n=n))
    return shares if isinstance(shares, Because) else LotReturns(1 - float(kept), float(n.sum()), shares)
