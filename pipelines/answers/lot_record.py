"""What the log says of lots, read once and asked often: a bid, a ranking or a replay needs no further look at the log."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, partial

import pandas as pd

from pipelines.estimates.lot_fate import LotFates, lot_fates
from pipelines.estimates.lot_return import LotReturns, lot_returns
from pipelines.facts.lots import Lots, known_before
from pipelines.facts.money import currencies, one_currency, prices
from pipelines.facts.read import Connection, window
from pipelines.logs.aliases import stored
from pipelines.vocabulary import Because

#: The columns of `Lots.fates` in the words of the estimates.
_ESTIMATED = {"lot_id": "lot", "stated_condition": "condition", "unit_count": "units"}


@dataclass(frozen=True)
class LotRecord:
    """The record of lots as it stood at the start of the day `as_of`, or (None) at the end of the log.

    counts, work, resale, returns, warranties, lines, prices: frames of `pipelines.facts.lots.Lots` and `facts.money`
    (`counts` is `Lots.fates`, `lines` and `earned` are not cut at `as_of`); fates_told: the estimate of what units turn into;
    returned: that of the share of sales that come back, by the days of warranty.
    currency: code or sign, None where none was written. families, sellers, conditions: of finished units of lots;
    log_families: of the whole log; family_aliases: the user's other words for them, folded word → family.
    """

    as_of: dt.date | None
    log_start: str | None
    log_end: str | None
    currency: str | None
    families: list[str]
    sellers: list[str]
    conditions: list[str]
    log_families: list[str]
    counts: pd.DataFrame
    work: pd.DataFrame
    resale: pd.DataFrame
    returns: pd.DataFrame
    warranties: pd.DataFrame
    lines: pd.DataFrame
    earned: pd.DataFrame
    prices: pd.DataFrame
    fates_told: Callable[[], LotFates]
    returned: Callable[[int], LotReturns | Because]
    family_aliases: dict[str, str] = field(default_factory=dict)

    @property
    def fates(self) -> LotFates:
        """The estimate of what units turn into, made when first asked for."""
        return self.fates_told()


def lot_record(connection: Connection, *, as_of: dt.date | None = None) -> LotRecord:
    """Read the record of lots and fit what their units turn into. Raises InputError where money is in several currencies."""
    currency = one_currency(currencies(connection))
    lots, watched = Lots(connection), window(connection)
    counts = lots.fates()
    if as_of is not None:
        counts = known_before(counts, as_of)
    last_day = as_of or (dt.date.fromisoformat(watched.log_end) if watched.log_end else dt.date.max)
    finished, returns = counts[counts["fate"] != "open"], lots.returns(as_of=as_of)
    return LotRecord(
        as_of=as_of, log_start=watched.log_start, log_end=watched.log_end, currency=currency,
        families=_names(finished["family"]), sellers=_names(finished["seller"]), conditions=_names(finished["stated_condition"]),
        log_families=lots.families(),
        counts=counts, work=lots.work(as_of=as_of), resale=lots.resale(as_of=as_of), returns=returns,
        warranties=lots.warranties(as_of=as_of), lines=lots.lines(), earned=lots.earned(), prices=prices(connection, last_day),
        fates_told=fates_of(counts), returned=returned_of(returns),
        family_aliases=stored(connection).for_column("lots", "family"),
    )  # fmt: skip


def fates_of(counts: pd.DataFrame) -> Callable[[], LotFates]:
    """Return the estimate of what units turn into, from counts as `Lots.fates` or `known_before` give them, made when used."""
    return cache(partial(_fates, counts))


def _fates(counts: pd.DataFrame) -> LotFates:
    return lot_fates(counts.rename(columns=_ESTIMATED)[["condition", "family", "seller", "lot", "fate", "units"]])


def returned_of(returns: pd.DataFrame) -> Callable[[int], LotReturns | Because]:
    """Return the estimate of what comes back, from counts as `Lots.returns` gives them; each warranty is worked out once."""
    return cache(partial(_returned, returns.rename(columns=_ESTIMATED)))


def _returned(returns: pd.DataFrame, days: int) -> LotReturns | Because:
    return lot_returns(returns, days=days)


def _names(column: pd.Series) -> list[str]:
    return sorted(column.dropna().unique())
