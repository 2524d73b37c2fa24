"""A bid as a sheet to keep or send: one page of HTML without scripts or anything fetched, and a workbook."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers import lot_tables as tables
from pipelines.answers.files import workbook_bytes
from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.lot_text import sentences
from pipelines.answers.page import page
from pipelines.decisions.bid import AtBid
from pipelines.estimates.bins import binned
from pipelines.wording.cautions import caution_words
from pipelines.wording.costs import cost_words, money_unit
from pipelines.wording.lots import bid_words, money_words
from pipelines.wording.verdict import counted, share_words

#: The inputs that a page has room for.
DRIVERS = 8
_WIDTH, _HEIGHT, _HEAD = 420.0, 120.0, 18.0


def sheet_html(answer: LotBid) -> bytes:
    """Return the page. Whatever comes from the log or the listing is shown as it is, never run."""
    return page(
        "lot_sheet.html", lot=_lot(answer), listing=_listing(answer), sentence=answer.sentence, warnings=answer.warnings,
        picture=_picture(answer), has_come=answer.case.received is not None, expected=tables.expected_table(answer),
        split=tables.split_table(answer),
        sentences=[said for name, said in sentences(answer).items() if name != "arrival"],
        costs=tables.cost_table(answer),
        drivers=tables.driver_table(answer).head(DRIVERS), rests_on=_rests_on(answer), caution=caution_words(),
        asked_for=[f"{cost_words(one.name)}, {money_unit(one.unit, answer.currency)}" for one in answer.asked_for],
    )  # fmt: skip


def sheet_workbook(answer: LotBid) -> bytes:
    """Return the workbook: all numbers, the tables in words, and what was asked."""
    return workbook_bytes(tables.sheets(answer))


@dataclass(frozen=True)
class _Bar:
    x: float
    y: float
    width: float
    height: float
    is_loss: bool


@dataclass(frozen=True)
class _Picture:
    """A histogram in the units of an SVG, with its words."""

    at: str
    bars: list[_Bar]
    zero: float
    loss: str
    gain: str
    low: str
    high: str
    width: float = _WIDTH
    height: float = _HEIGHT


def _picture(answer: LotBid) -> _Picture | None:
    """Draw the profit at the highest bid, or at the price asked where no bid is advised."""
    if (answer.bid is None and answer.asking is None) or answer.value_quantiles is None:
        return None
    is_asking = answer.bid is None or (answer.bid.highest_bid is None and answer.asking is not None)
    at: AtBid = answer.asking if is_asking else answer.bid.at
    bins = binned([value - at.price for value in answer.value_quantiles])
    low, high = min(bins[0].low, 0.0), max(bins[-1].high, 0.0)
    room = 0.22 * ((high - low) or 1.0)
    low, high = min(low, -room), max(high, room)
    per, top = _WIDTH / (high - low), max(one.share for one in bins)
    bars = []
    for one in bins:
        tall = (_HEIGHT - _HEAD) * one.share / top
        wide = max((one.high - one.low) * per - 1, 1.0)
        bars.append(_Bar(round((one.low - low) * per, 1), round(_HEIGHT - tall, 1), round(wide, 1), round(tall, 1), one.low < 0))
    return _Picture(
        at=(money_words if is_asking else bid_words)(at.bid, answer.currency), bars=bars, zero=round(-low * per, 1),
        loss=f"loss {share_words(at.loss_chance)}", gain=f"gain {share_words(1 - at.loss_chance)}",
        low=money_words(low, None), high=money_words(high, None),
    )  # fmt: skip


def _rests_on(answer: LotBid) -> str:
    of = answer.rests_on
    return f"It rests on {counted(of.units, 'finished unit')} of {counted(of.lots, 'past lot')}."


def _lot(answer: LotBid) -> str:
    return ", ".join(f"{units:,} {family}" for family, units in answer.case.mix.items())


def _listing(answer: LotBid) -> list[tuple[str, str]]:
    case = answer.case
    said = [("stated condition", case.condition.replace("_", " "))]
    if case.seller is not None:
        said.append(("seller", case.seller))
    if case.price is not None:
        said.append(("price asked, before fees", money_words(case.price, answer.currency)))
    if case.stated_good_share is not None:
        said.append(("working, as the seller states", share_words(case.stated_good_share)))
    if case.tested:
        said.append(("tested", f"{case.tested_count:,}, of those working {case.good_count:,}"))
    if case.received is not None:
        said.append(("came", f"{case.received:,} units"))
    return [*said, ("log", f"{answer.log_start} to {answer.log_end}")]
