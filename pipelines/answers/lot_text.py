"""A bid as text for the terminal, and as one table."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.lot_arrival import arrival_said
from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, aligned
from pipelines.estimates.estimate import Estimate
from pipelines.wording import costs, lots
from pipelines.wording.verdict import counted, level_words, limits_words, log_words

#: What drives the bid most; the JSON has the rest.
SWINGS = 6


def bid_text(answer: LotBid) -> str:
    """Return the whole answer as text."""
    money = f" · {answer.currency}" if answer.currency else ""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals{money}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks += [fill(answer.sentence, WIDTH), _fates(answer), _money(answer)]
    more = [said for name, said in sentences(answer).items() if name != "arrival"]  # the answer begins with that
    blocks.append("\n".join(fill(f"  {said}", WIDTH, subsequent_indent="    ") for said in more))
    if any(one.size for one in answer.sensitivity or []):
        blocks.append(_swings(answer))
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    blocks.append(fill(rests_on(answer), WIDTH))
    if answer.rests_on.lots:
        blocks.append("Have past lots come out as forecast? Ask `stickfleet answer past-lots`.")
    return "\n\n".join(block for block in blocks if block)


def sentences(answer: LotBid) -> dict[str, str]:
    """Return what else there is to say, by what it is of: break_even, testing, arrival, capacity, seller."""
    said, currency = {}, answer.currency
    if answer.break_even is not None:
        share = answer.break_even.can_be_sold
        said["break_even"] = lots.even_sentence(answer.break_even.at_bid, currency, (share.even, share.good_share))
    if answer.testing is not None:
        one = answer.testing.advice
        said["testing"] = lots.testing_sentence(answer.testing.family, one.why, one.sample_count, one.act_from, one.net, currency)
    if answer.arrival is not None:
        said["arrival"] = arrival_said(answer.arrival, answer.case, currency)
    if answer.expected is not None and answer.capacity is not None:
        one = answer.capacity
        said["capacity"] = lots.capacity_sentence(
            _three(answer.expected.bench_h), one.hours_free_per_week, _three(one.weeks), one.weeks_allowed, one.fit_chance
        )
    if answer.seller is not None:
        one = answer.seller
        said["seller"] = lots.seller_sentence(one.name, one.lots, one.works, one.units, _three(one.odds_ratio))
    return said


def bid_table(answer: LotBid) -> pd.DataFrame:
    """Return one row per number of the bid: what, family (None: the whole lot), unit, estimate, low, high, because."""
    money = answer.currency or "money"
    rows: list[tuple] = []
    if answer.bid is not None:
        rows.append(("highest bid", None, money, answer.bid.highest_bid, None, None, None))
    at = None if answer.bid is None else answer.bid.at
    for name, one in (("at the highest bid", at), ("at the price asked", answer.asking)):
        if one is not None:
            rows.append((f"profit {name}", None, money, one.expected_profit, one.low_profit, one.high_profit, None))
            rows.append((f"chance of a loss {name}", None, "share", one.loss_chance, None, None, None))
    rows += [(lots.fate_words(one.fate), one.family, "units", *_four(one.units)) for one in answer.fates]
    if answer.expected is not None:
        of = answer.expected
        units = (("sold", "units", of.sold), ("bench hours", "hours", of.bench_h), ("parts", "parts", of.parts),
                 ("returned", "units", of.returns), ("revenue", money, of.revenue), ("cost", money, of.cost),
                 ("value before the price", money, of.value), ("profit of a unit", money, of.per_unit))  # fmt: skip
        rows += [(name, None, unit, *_four(one)) for name, unit, one in units]
    rows += [(f"to be given: {one.name}", ", ".join(one.of) or None, one.unit, None, None, None, "not_given")
             for one in answer.asked_for]  # fmt: skip
    return pd.DataFrame(rows, columns=["what", "family", "unit", "estimate", "low", "high", "because"])


def bid_csv(answer: LotBid) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(bid_table(answer))


def _three(one: Estimate) -> tuple:
    return one.estimate, one.low, one.high


def _four(one: Estimate) -> tuple:
    return (*_three(one), one.because)


def _fates(answer: LotBid) -> str:
    """Return a table of expected units: one row a family, one column a fate."""
    if not answer.fates:
        return ""
    families = list(dict.fromkeys(one.family for one in answer.fates))
    families = families if len(families) > 2 else families[:1]
    fates = list(dict.fromkeys(one.fate for one in answer.fates))
    told = {(one.family, one.fate): f"{one.units.estimate:,.1f} ({_span(one.units)})" for one in answer.fates}
    rows = [[family or "whole lot", *(told[family, fate] for fate in fates)] for family in families]
    return aligned([["expected units", *map(lots.fate_words, fates)], *rows])


def _money(answer: LotBid) -> str:
    if answer.expected is None:
        return ""
    of = answer.expected
    rows = [("sold, units", of.sold), ("returned, units", of.returns), ("parts fitted", of.parts), ("bench hours", of.bench_h),
            ("revenue", of.revenue), ("cost, before its price", of.cost), ("value, before its price", of.value)]  # fmt: skip
    at = f"profit of a unit at {lots.money_words(of.at_bid, answer.currency)}"
    said = [[name, costs.amount_words(one.estimate), _span(one)] for name, one in [*rows, (at, of.per_unit)]]
    return aligned([["of the lot", "expected", "8 of 10"], *said])


def _swings(answer: LotBid) -> str:
    rows = [
        [costs.swing_words(one.name), costs.swing_range_words(one), costs.amount_words(one.bid_at_low),
         costs.amount_words(one.bid_at_high)]
        for one in answer.sensitivity[:SWINGS]
        if one.size
    ]  # fmt: skip
    before = "What drives the bid before the test" if answer.test is not None else "What drives the bid"
    return aligned([[before, "from, to", "bid at first", "bid at last"], *rows])


def rests_on(answer: LotBid) -> str:
    """Say how many past units a bid rests on, and where its costs and prices are from."""
    of = answer.rests_on
    said = f"It rests on {counted(of.units, 'finished unit')} of {counted(of.lots, 'past lot')}."
    places = {}
    for one in answer.sources:
        places.setdefault(one.origin, {})[costs.cost_words(one.name).lower()] = None
    named = {"setting": "Given by you", "prices": "From the price list", "record": "From the record"}
    return " ".join([said, *(f"{named[origin]}: {', '.join(names)}." for origin, names in places.items())])


def _span(one: Estimate) -> str:
    return limits_words(one.low, one.high, costs.amount_words)
