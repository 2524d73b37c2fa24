"""Lots as they were bought, and what came of their units, from the frames of `pipelines.facts.lots`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.decisions.bid import Fees
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_result import Came
from pipelines.facts.lots import GIVEN_UP_AFTER_DAYS

#: The field of `Came` and the column of `Lots.results` that it is the sum of.
_CELLS = {
    "units": "unit_count", "sold": "sold_count", "priced": "priced_count", "income": "sale_income",
    "timed": "timed_count", "hours": "bench_h", "costed": "costed_count", "spent": "spent",
    "returned": "returned_count", "unwatched": "warranty_left",
}  # fmt: skip


@dataclass(frozen=True)
class Bought:
    """A lot as it was bought. mix, conditions, unseen: family → units bought, stated condition, units the bench has not seen;
    bid: without fees; paid: with those that are noted; fees: None where one is not. Money is None where no price is noted."""

    lot_id: str
    seller: str | None
    bought_on: dt.date
    mix: dict[str, int]
    conditions: dict[str, str]
    unseen: dict[str, int]
    bid: float | None
    paid: float | None
    fees: Fees | None

    def is_young(self, log_end: str | None) -> bool:
        """Tell whether what the bench has not seen of it may still come."""
        return log_end is not None and dt.date.fromisoformat(log_end) - self.bought_on < dt.timedelta(days=GIVEN_UP_AFTER_DAYS)


def by_lot(frame: pd.DataFrame) -> dict[str, list[dict]]:
    """Return the rows of each lot, lots in sorted order; a null is None."""
    found: dict[str, list[dict]] = {}
    for row in frame.astype(object).where(frame.notna(), None).to_dict("records"):
        found.setdefault(row["lot_id"], []).append(row)
    return dict(sorted(found.items()))


def bought_lots(lines: pd.DataFrame) -> tuple[list[Bought], dict[str, int]]:
    """Return the lots of `Lots.lines` that can be placed in order of purchase, and how many cannot."""
    found, left_out = [], {"not_listed": 0, "no_day": 0, "no_count": 0}
    for lot_id, rows in by_lot(lines).items():
        listed = [row for row in rows if row["is_listed"]]
        days = [row["bought_on"] for row in listed if row["bought_on"] is not None]
        if not listed:
            left_out["not_listed"] += 1
        elif not days:
            left_out["no_day"] += 1
        elif any(row["family"] is None or not row["bought_count"] for row in listed):
            left_out["no_count"] += 1
        else:
            found.append(_lot(lot_id, listed, min(days).date()))
    return sorted(found, key=lambda lot: (lot.bought_on, lot.lot_id)), left_out


def came_of(lot: Bought, results: Sequence[Mapping], *, is_young: bool) -> Came:
    """Return what came of a lot's units, from its rows of `Lots.results`; is_young: what the bench has not seen may still come.

    Units of a family that the lot does not list count with its most frequent one.
    """
    row = {family: place for place, family in enumerate(lot.mix)}
    usual = max(lot.mix, key=lot.mix.__getitem__)
    cells = {name: np.zeros((len(row), len(FATES))) for name in _CELLS}
    waiting = np.array([float(lot.unseen[family]) if is_young else 0.0 for family in lot.mix])
    for one in results:
        place = row.get(one["family"], row[usual])
        if not one["is_settled"]:
            waiting[place] += one["unit_count"]
            continue
        for name, column in _CELLS.items():
            cells[name][place, FATES.index(one["fate"])] += one[column]
    return Came(**cells, waiting=waiting)


def _lot(lot_id: str, lines: list[dict], bought_on: dt.date) -> Bought:
    """Return a lot from its lines; the same price written on each of them counts once."""
    priced = lines[:1] if lines[0]["is_price_repeated"] else lines
    price, *fees = (_added(row[name] for row in priced) for name in ("lot_price", "buyer_premium", "freight", "tax"))
    premium, freight, tax = fees
    terms = None
    if price and None not in fees:
        terms = Fees(premium / price, tax / (price + premium), freight)
    return Bought(
        lot_id, next((row["seller"] for row in lines if row["seller"] is not None), None), bought_on,
        {row["family"]: int(row["bought_count"]) for row in lines}, {row["family"]: row["stated_condition"] for row in lines},
        {row["family"]: int(row["not_seen_count"]) for row in lines},
        price, None if price is None else price + sum(fee or 0.0 for fee in fees), terms,
    )  # fmt: skip


def _added(amounts: Iterable[float | None]) -> float | None:
    """Return the sum, None where one of them is not known."""
    amounts = list(amounts)
    return None if None in amounts else float(sum(amounts))
