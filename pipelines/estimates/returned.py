"""Which share of sold units came back within so many days, for a fault or at all, and how long a warranty a share allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.competing import cumulative_incidence
from pipelines.estimates.counts import require, require_columns, times, whole_counts
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.survival import drawn, survival
from pipelines.vocabulary import Because

#: A share this little above the one allowed is a rounding error.
ROUNDING = 1e-9
FAULT, OTHER = "fault", "other"


@dataclass(frozen=True)
class LongestWarranty:
    """The most days at which the share that comes back stays within what is allowed; 0: not even one day.

    likely_days: by the estimate; sure_days: by its upper limit; is_likely_open, is_sure_open: the record ends there, so that
    it may be more. All None, with `because`, where too few were watched to say.
    """

    likely_days: int | None
    sure_days: int | None
    is_likely_open: bool
    is_sure_open: bool
    because: Because | None = None


@dataclass(frozen=True)
class ReturnedShares:
    """Returns of one group by days since the sale.

    by: its values in the order asked for; sales, returned, for_fault: units; told_to: the last whole day on which enough were
    still watched, 0 where nothing can be told. curve, fault_curve: `at` (days), `returned_share`, `low`, `high`, `at_risk`,
    `returned`, `is_drawn`, one row at 0 and at each distinct end; a limit is NaN where the curve sets none.
    """

    by: tuple
    sales: int
    returned: int
    for_fault: int
    told_to: int
    curve: pd.DataFrame
    fault_curve: pd.DataFrame
    _daily: np.ndarray
    _daily_fault: np.ndarray

    def within(self, days: int) -> Estimate:
        """Return the share that came back within so many days (1 or more) of the sale, that day included, for any reason.

        `too_few_at_risk` after `told_to`. Where none came back so early the limits are Wilson's, of those watched so long.
        """
        return self._on(self._daily, days)

    def for_fault_within(self, days: int) -> Estimate:
        """Return the share that came back for a fault, the other returns ending the watch of a unit as well."""
        return self._on(self._daily_fault, days)

    def watched(self, days: int) -> int:
        """Return how many were neither returned before that day nor lost sight of."""
        place = int(np.searchsorted(self.curve["at"].to_numpy(), days, side="left"))
        return int(self.curve["at_risk"].to_numpy()[place]) if place < len(self.curve) else 0

    def longest(self, share: float) -> LongestWarranty:
        """Return the longest warranty under which at most this share (from 0) comes back. Raises InputError."""
        if not share >= 0:
            raise InputError(f"A share of {share} cannot come back.", "Give a share from 0.")
        if not self.told_to:
            return LongestWarranty(None, None, False, False, Because.TOO_FEW_AT_RISK)
        is_over = self._daily[:, [0, 2]] > share + ROUNDING
        likely, sure = np.where(is_over.any(axis=0), is_over.argmax(axis=0), self.told_to).tolist()
        return LongestWarranty(likely, sure, likely == self.told_to, sure == self.told_to)

    def _on(self, daily: np.ndarray, days: int) -> Estimate:
        if days < 1:
            raise InputError(f"A warranty of {days} days is none.", "Ask for one day or more.")
        return Estimate(*daily[days - 1].tolist()) if days <= self.told_to else Estimate.refused(Because.TOO_FEW_AT_RISK)


def returned_shares(
    sales: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_watched: int | None = None
) -> list[ReturnedShares]:
    """Estimate by when sold units come back, for each group in sorted order.

    sales: counts per `by`, `days` (over 0; from the sale to the return, or to the end of the watch), `is_returned`, `is_fault`
    (of a return: for a fault) and `sale_count`. Sales watched for a short time only count as long as they were watched.
    Enough are watched as long as there are `min_watched`, by default 10 or 5 % of the group, whichever is more.
    No sales give no groups. Raises InputError on a time that is none, and a fault without a return.
    Method: Kaplan & Meier (1958) for all returns, Aalen & Johansen (1978) for faults; log-minus-log limits.
    """
    z = normal_quantile(level)
    require_columns(sales, ["days", "is_returned", "is_fault", "sale_count"])
    sales = sales[whole_counts(sales, "sale_count") > 0]
    days, is_returned, is_fault = times(sales, "days"), *(sales[one].to_numpy(dtype=bool) for one in ("is_returned", "is_fault"))
    require(
        (days > 0) & np.isfinite(days), "`days` is no length of time", "Give days over 0, half a day for the day of the sale."
    )
    require(is_returned | ~is_fault, "A unit that did not come back has a fault", "Say `is_fault` of returns only.")
    if not len(sales):
        return []
    spells = sales.assign(
        entry=0.0, at=days, is_failure=is_returned, spell_count=sales["sale_count"],
        mechanism=np.select([is_fault, is_returned], [FAULT, OTHER], None),
    )  # fmt: skip
    curve = survival(spells, by=by, level=level)
    whole = curve.assign(returned_share=1 - curve["surviving_share"], low=1 - curve["high"], high=1 - curve["low"])
    whole = whole.rename(columns={"failed": "returned"})
    parts = cumulative_incidence(spells, by=by, level=level).rename(
        columns={"failed_share": "returned_share", "failed": "returned"}
    )
    return [
        _group(values, curve, faults, z=z, min_watched=min_watched)
        for (values, curve), (_, faults) in zip(_split(whole, by), _split(_faults(parts, whole), by), strict=True)
    ]


def _faults(parts: pd.DataFrame, whole: pd.DataFrame) -> pd.DataFrame:
    """Return the curve of faults; flat where none came back for one."""
    faults = parts[parts["mechanism"] == FAULT]
    return faults if len(faults) else whole.assign(returned_share=0.0, low=0.0, high=0.0, returned=0)


def _split(frame: pd.DataFrame, by: Sequence[str]) -> list[tuple[tuple, pd.DataFrame]]:
    """Return the rows of each group; each begins with a row at 0."""
    starts = np.flatnonzero(frame["at"].to_numpy() == 0)
    ends = np.append(starts[1:], len(frame))
    pieces = [frame.iloc[start:end].reset_index(drop=True) for start, end in zip(starts, ends, strict=True)]
    return [(tuple(piece[column].iloc[0] for column in by), piece) for piece in pieces]


def _group(values: tuple, curve: pd.DataFrame, faults: pd.DataFrame, *, z: float, min_watched: int | None) -> ReturnedShares:
    sales = int(curve["at_risk"].iloc[0])
    shown = drawn(curve, spell_count=sales, min_at_risk=min_watched).curve
    ends = shown.loc[shown["is_drawn"], "at"]
    told_to = int(ends.max()) if len(ends) else 0
    names = ["at", "returned_share", "low", "high", "at_risk", "returned"]
    curves = [one[names].assign(is_drawn=shown["is_drawn"]) for one in (shown, faults)]
    counts = (int(one["returned"].sum()) for one in curves)
    return ReturnedShares(values, sales, *counts, told_to, *curves, *(_daily(one, told_to, sales, z) for one in curves))


def _daily(curve: pd.DataFrame, told_to: int, sales: int, z: float) -> np.ndarray:
    """Return share, low and high within 1, 2, … days; where none or all came back the limits are Wilson's."""
    at, day = curve["at"].to_numpy(), np.arange(1, told_to + 1)
    row = np.searchsorted(at, day, side="right") - 1
    share, low, high = (curve[name].to_numpy(dtype=float)[row] for name in ("returned_share", "low", "high"))
    watched = curve["at_risk"].to_numpy()[np.searchsorted(at, day, side="left")]
    low = np.select([share <= 0, share >= 1], [0.0, sales / (sales + z**2)], low)
    high = np.select([share <= 0, share >= 1], [z**2 / (watched + z**2), 1.0], high)
    return np.column_stack([share, low, high])
