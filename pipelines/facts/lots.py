"""Read what became of units bought in lots: fates, bench work, resale, returns and money, each as a small frame."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from pipelines.facts.build import sql_text
from pipelines.facts.read import Connection
from pipelines.vocabulary import Fate

#: Made anew in this order; each reads the ones before it.
_STEPS = (("macros",), ("tables", "action_kind"), ("questions", "lot_span"), ("questions", "lot_job"), ("questions", "lot_unit"))

#: A unit that was not finished, or not sold once finished, for so many days is taken to bring nothing but its parts.
GIVEN_UP_AFTER_DAYS = 180


class Lots:
    """The units of all lots under the settings of the histories, judged once; then read as counts.

    A unit belongs to the lot that its jobs name, from its first job under it until it comes in another. Its fate is the worst
    over its sticks and visits until it was sold or finished (each stick seen is good, and not held). Warranty work after the
    sale does not count, nor does a preventive clean of a stick without a fault. Sold for parts is scrap.

    as_of: only what was known before that day; None: all up to the end of the log. Money is in the currency of the exports.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        for step in _STEPS:
            connection.execute(sql_text(*step))

    def units(self) -> pd.DataFrame:
        """Return one row per unit and lot: unit_id, lot_id, family, is_listed, seller, stated_condition, bought_on,
        intake_on, fate, finished_on, bench_minutes, parts_cost, consumables_cost, sensor_count, module_count, board_count,
        warranty_minutes, warranty_cost, sold_on, price, grade, warranty_days, returned_on, return_reason, last_price,
        is_last_returned. Null: not known, or not so far. Grows with the log: for lists and exports, not for estimates.
        """
        return self._connection.execute("SELECT * FROM lot_unit ORDER BY lot_id, unit_id").df()

    def lines(self) -> pd.DataFrame:
        """Return one row per lot and family: lot_id, family, is_listed, seller, stated_condition, bought_on, bought_count,
        received_count, tested_count, lot_price, buyer_premium, freight, tax, seen_count, first_intake_on, not_seen_count,
        is_price_repeated.

        is_listed false: units name this lot and family, the table of lots does not. not_seen_count: units that have no job
        yet. is_price_repeated: all lines of the lot have the very same price, which may be that of the whole lot.
        """
        return self._whole("lot_line", "bought_count", "received_count", "tested_count", "seen_count", "not_seen_count")

    def fates(self) -> pd.DataFrame:
        """Return one row per lot, family, fate and finished_on (null: open): lot_id, family, is_listed, seller,
        stated_condition, bought_on, fate, finished_on, unit_count. `known_before` cuts it at a day.
        """
        return self._connection.execute(sql_text("questions", "lot_fate")).df()

    def work(self, *, as_of: dt.date | None = None) -> pd.DataFrame:
        """Return one row per family and fate (open left out): unit_count, timed_count, bench_mean_h, bench_sd_h,
        sensors_per_unit, modules_per_unit, boards_per_unit, parts_costed_count, parts_mean, parts_sd,
        consumables_costed_count, consumables_mean, consumables_sd; per unit, up to its sale. SDs of one unit are null.
        """
        return self._cut("lot_work", as_of)

    def resale(self, *, as_of: dt.date | None = None) -> pd.DataFrame:
        """Return one row per family, fate and grade (null: not noted): sold_count, price_mean, price_sd, last_price,
        last_sold_on, recent_count, recent_mean, recent_sd; recent: the last 365 days. First sales only.
        """
        return self._cut("lot_resale", as_of)

    def returns(self, *, as_of: dt.date | None = None) -> pd.DataFrame:
        """Return one row per lot_id, seller, stated_condition, family, fate, grade, warranty_days, days, is_returned and
        return_reason: sale_count; first sales under warranty.

        days: since the sale, at the return, else when watching ended: at the end of the warranty, or `quiet_lag_days` before
        the end of the log. return_reason: a `ReturnReason`, null where not returned.
        """
        return self._cut("lot_return", as_of)

    def families(self) -> list[str]:
        """Return every family of the log, whether it came in a lot or not."""
        rows = self._connection.execute("SELECT DISTINCT family FROM slot WHERE family IS NOT NULL ORDER BY family").fetchall()
        return [family for (family,) in rows]

    def warranties(self, *, as_of: dt.date | None = None) -> pd.DataFrame:
        """Return one row per warranty_days given in the last 365 days: warranty_days, sale_count; the most usual first."""
        return self._cut("lot_warranty", as_of)

    def earned(self) -> pd.DataFrame:
        """Return one row per lot: lot_id, is_listed, seller, bought_on, bought_count, lot_price, buyer_premium, freight, tax,
        seen_count, open_count, scrap_count, sold_count, unsold_count, sale_income, returned_income, returned_count, bench_h,
        bench_unknown_count, spent, spent_unknown_count, warranty_h, warranty_spent.

        spent: parts and consumables up to the sale; warranty_*: of warranty returns. unsold_count: finished, not scrap.
        returned_income: the part of sale_income whose sale came back; the log does not say whether it was paid back.
        """
        counts = ("bought_count", "seen_count", "open_count", "scrap_count", "sold_count", "unsold_count", "returned_count",
                  "bench_unknown_count", "spent_unknown_count")  # fmt: skip
        return self._whole("lot_earned", *counts)

    def results(self) -> pd.DataFrame:
        """Return one row per lot, family, fate and is_settled: unit_count, sold_count, priced_count, sale_income, timed_count,
        bench_h, costed_count, spent, returned_count, warranty_left.

        is_settled: sold, scrapped or given up, i.e. not finished or not sold for `GIVEN_UP_AFTER_DAYS`; unfinished is then scrap.
        Sums are over the units counted beside them; spent: parts and consumables; first sales only. warranty_left: of those sold
        and not back, the part of the warranty that was not watched yet, in units.
        """
        return self._connection.execute(sql_text("questions", "lot_result"), {"given_up_after_days": GIVEN_UP_AFTER_DAYS}).df()

    def _cut(self, question: str, as_of: dt.date | None) -> pd.DataFrame:
        return self._connection.execute(sql_text("questions", question), {"as_of": as_of}).df()

    def _whole(self, question: str, *counts: str) -> pd.DataFrame:
        """Return a frame whose counts stay whole numbers beside blanks."""
        frame = self._connection.execute(sql_text("questions", question)).df()
        return frame.astype(dict.fromkeys(counts, "Int64"))


def known_before(fates: pd.DataFrame, as_of: dt.date) -> pd.DataFrame:
    """Return `Lots.fates` as the record stood before a day: lots bought before it; fates found since are open again."""
    day = pd.Timestamp(as_of)
    known = fates[~(fates["bought_on"] >= day)].copy()
    is_later = ~(known["finished_on"] < day)
    known.loc[is_later, "fate"] = str(Fate.OPEN)
    known.loc[is_later, "finished_on"] = pd.NaT
    columns = [name for name in known.columns if name != "unit_count"]
    return known.groupby(columns, dropna=False, as_index=False, sort=False)["unit_count"].sum()
