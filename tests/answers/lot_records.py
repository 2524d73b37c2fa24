"""Records of lots as small frames, without a log behind them."""

from __future__ import annotations

import pandas as pd

from pipelines.answers.lot_bid import bid_of
from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.lot_record import LotRecord, fates_of, returned_of
from pipelines.answers.question import asked
from pipelines.settings import Settings

#: Everything that a bid needs, so that the record tells of the fates alone.
GIVEN = {
    "resale_price": 30.0, "other_fault_share": 0.0, "bench_hours_per_unit": 0.5, "labour_per_hour": 20.0, "part_cost": 4.0,
    "consumables_per_clean": 1.0, "selling_fee_share": 0.1, "freight_out": 3.0, "return_share": 0.0, "return_cost": 0.0,
    "warranty_days": 0, "harvest_value": 2.0, "buyer_premium_share": 0.0, "tax_share": 0.0, "inbound_freight": 0.0,
}  # fmt: skip
_COUNTS = "lot_id family seller stated_condition bought_on fate finished_on unit_count"
_WORK = (
    "family fate unit_count timed_count bench_mean_h bench_sd_h sensors_per_unit modules_per_unit boards_per_unit "
    "parts_costed_count parts_mean parts_sd consumables_costed_count consumables_mean consumables_sd"
)
_RESALE = "family fate grade sold_count price_mean price_sd last_price last_sold_on recent_count recent_mean recent_sd"
_RETURNS = "lot_id seller stated_condition family fate days is_returned return_reason sale_count"
_LINES = "lot_id family is_listed bought_on bought_count lot_price buyer_premium freight tax is_price_repeated"


def frame(columns: str, rows: list[tuple]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=columns.split())


def lots_of(*lots: tuple[str, str, str, int, int, int, int], day: str = "2025-03-01") -> pd.DataFrame:
    """Return counts of fates; a lot is family, condition, seller, then how many work, are cleaned, got a part, are scrap."""
    rows = [
        (f"L{place}", family, seller, condition, pd.Timestamp(day), fate, pd.Timestamp(day), count)
        for place, (family, condition, seller, *split) in enumerate(lots)
        for fate, count in zip(("works", "cleaned", "new_part", "scrap"), split, strict=True)
        if count
    ]
    return frame(_COUNTS, rows)


USUAL = lots_of(
    ("Nolm", "untested", "Alder", 12, 4, 3, 1), ("Nolm", "untested", "Birch", 10, 5, 4, 1),
    ("Nolm", "untested", "Alder", 13, 3, 3, 1), ("Velm", "untested", "Birch", 6, 6, 6, 2),
    ("Velm", "tested", "Alder", 14, 3, 2, 1), ("Nolm", "tested", "Birch", 16, 2, 2, 0),
)  # fmt: skip


def record(counts: pd.DataFrame = USUAL, **rows: list[tuple]) -> LotRecord:
    """Return a record of these fates; work, resale, returns, warranties, lines and prices as rows, empty where not given."""
    columns = {
        "work": _WORK, "resale": _RESALE, "returns": _RETURNS,
        "warranties": "warranty_days sale_count", "lines": _LINES, "prices": "kind key amount valid_from is_known",
    }  # fmt: skip
    frames = {name: frame(of, rows.get(name, [])) for name, of in columns.items()}
    names = {name: sorted(counts[column].dropna().unique()) for name, column in
             (("families", "family"), ("sellers", "seller"), ("conditions", "stated_condition"))}  # fmt: skip
    return LotRecord(
        as_of=None, log_start="2025-01-01", log_end="2025-12-31", currency="EUR", log_families=names["families"], counts=counts,
        earned=pd.DataFrame(), fates_told=fates_of(counts), returned=returned_of(frames["returns"]), **names, **frames,
    )  # fmt: skip


def bid(of: LotRecord | None = None, *, settings: dict[str, object] | None = None, is_brief: bool = True, **case: str) -> LotBid:
    """Return the answer to a case, everything given unless settings say otherwise."""
    chosen = Settings(**(GIVEN if settings is None else settings))
    words = {"mix": "Nolm:20", "condition": "untested", **case}
    question = asked("lot-bid", by=[], where={}, clock=None, level=None, settings=chosen, is_brief=is_brief, case=words)
    return bid_of(record() if of is None else of, question)
