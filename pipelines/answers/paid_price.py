"""What a unit cost in past lots, and in which condition most of them were bought lately."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipelines.answers.lot_record import LotRecord
from pipelines.answers.ranking_record import PaidPrice
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.going_price import going_prices
from pipelines.vocabulary import StatedCondition

_FEES = ["buyer_premium", "freight", "tax"]


def usual_condition(record: LotRecord) -> str:
    """Return the stated condition of most units bought in the last year, else of all; `unknown` where none is stated."""
    lines = _listed(record)
    recent = lines[_is_recent(record, lines)]
    units = (recent if len(recent) else lines).groupby("stated_condition")["bought_count"].sum()
    units = units.drop(StatedCondition.UNKNOWN.value, errors="ignore")
    return str(units.idxmax()) if len(units) else StatedCondition.UNKNOWN.value


def paid_prices(
    record: LotRecord, families: Sequence[str], *, condition: str, given: dict[str, float], level: float
) -> list[PaidPrice]:
    """Return what a unit of each family costs in a condition: as given, else by its lots of the last year, else by earlier ones.

    The price of a lot is with its fees, over the units that came (where not counted: those bought). A lot of several families
    with one price for all does not say what a unit of each cost, nor does one that cost nothing.
    """
    lines = _listed(record)
    came = lines["received_count"].fillna(lines["bought_count"]).astype(float)
    price = (lines["lot_price"].astype(float) + lines[_FEES].astype(float).fillna(0).sum(axis=1)) / came.where(came > 0)
    lots = lines.assign(condition=lines["stated_condition"], price=price.replace(np.inf, np.nan))
    lots = lots[(lots["price"] > 0) & ~lots["is_price_repeated"].astype(bool)]
    is_recent = _is_recent(record, lots)
    is_current = lots["family"].isin(lots.loc[is_recent, "family"])
    used = lots[is_recent | ~is_current]
    current = set(lots.loc[is_current, "family"])
    wanted = [family for family in families if family not in given]
    found = {one.family: one for one in going_prices(used, wanted, condition=condition, level=level)}
    told = []
    for family in families:
        if family in given:
            told.append(PaidPrice("given", 0, Estimate(given[family], given[family], given[family])))
            continue
        one = found[family]
        origin = None if one.price.because else "last_year" if family in current else "earlier"
        told.append(PaidPrice(origin, one.lots, one.price))
    return told


def _listed(record: LotRecord) -> pd.DataFrame:
    """Return the lines of lots bought before the day of the record."""
    lines = record.lines[record.lines["is_listed"].astype(bool) & record.lines["family"].notna()]
    return lines if record.as_of is None else lines[lines["bought_on"] < pd.Timestamp(record.as_of)]


def _is_recent(record: LotRecord, lines: pd.DataFrame) -> pd.Series:
    last = record.as_of or (dt.date.fromisoformat(record.log_end) if record.log_end else None)
    return lines["bought_on"] > pd.Timestamp(last or dt.date.min) - pd.Timedelta(days=365) if last else lines["bought_on"].notna()
