"""The tables of a bid that screens, sheets and workbooks share: numbers in everyday words, each with its limits."""

from __future__ import annotations

import pandas as pd

from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.lot_text import bid_table
from pipelines.estimates.estimate import Estimate
from pipelines.settings import Settings
from pipelines.wording.costs import amount_words, cost_words, money_unit, origin_words, swing_range_words, swing_words
from pipelines.wording.lots import fate_words, money_words
from pipelines.wording.verdict import limits_words, share_words

LIMITS = "8 of 10 lots"


def split_table(answer: LotBid) -> pd.DataFrame:
    """Return what the units turn into, each number with its limits: one row a family, the whole lot last where it has several."""
    families = list(dict.fromkeys(one.family for one in answer.fates))
    families = families if len(families) > 2 else families[:1]
    told = {
        (one.family, fate_words(one.fate)): f"{one.units.estimate:,.1f} ({_span(one.units, '{:,.0f}'.format)})"
        for one in answer.fates
    }
    fates = list(dict.fromkeys(fate for _, fate in told))
    mix = answer.case.mix if answer.arrived_mix is None else answer.arrived_mix
    rows = [
        (f"whole lot ({sum(mix.values()):,})" if family is None else f"{family} ({mix[family]:,})",
         *(told[family, fate] for fate in fates))
        for family in families
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["family", *fates])


def expected_table(answer: LotBid) -> pd.DataFrame:
    """Return what the lot takes and brings: of the whole lot, expected, limits. Empty where there is no bid."""
    of, currency = answer.expected, answer.currency
    rows = []
    if of is not None:
        behind = f", {currency}" if currency else ""
        counts = (
            ("units sold", of.sold),
            ("of those returned", of.returns),
            ("parts fitted", of.parts),
            ("bench hours", of.bench_h),
        )
        rows = [(name, f"{one.estimate:,.1f}", _span(one, _number)) for name, one in counts]
        money = (
            (f"revenue less fees{behind}", of.revenue), (f"cost of the work{behind}", of.cost),
            (f"worth before its price{behind}", of.value),
            (f"profit of a unit at {money_words(of.at_bid, currency)}", of.per_unit),
        )  # fmt: skip
        rows += [(name, _money(one.estimate), _span(one, _money)) for name, one in money]
    return pd.DataFrame(rows, columns=["of the whole lot", "expected", LIMITS])


def cost_table(answer: LotBid) -> pd.DataFrame:
    """Return the costs and prices used: what, number with its unit, where it is from; one row a setting."""
    metadata = {name: one.metadata for name, one in Settings.__dataclass_fields__.items()}
    rows = []
    for name in dict.fromkeys(one.name for one in answer.sources):
        found = [one for one in answer.sources if one.name == name]
        unit, amounts = metadata[name]["unit"], {one.amount for one in found}
        say = share_words if unit.startswith("share") else amount_words
        amount = amounts.pop() if len(amounts) == 1 else None
        behind = money_unit(unit, answer.currency).removeprefix("share ")
        rows.append(
            (cost_words(name), f"{say(amount)} {behind}" if amount is not None else "by family", origin_words(found, say=say))
        )
    return pd.DataFrame(rows, columns=["what", "number", "where from"])


def driver_table(answer: LotBid) -> pd.DataFrame:
    """Return what drives the bid, the greatest first: what, moved between, highest bid at the first and at the last."""
    rows = [
        (swing_words(one.name), swing_range_words(one).partition(" (")[0], _money(one.bid_at_low), _money(one.bid_at_high))
        for one in answer.sensitivity or []
        if one.size
    ]
    return pd.DataFrame(rows, columns=["what", "moved between", "bid at the first", "bid at the last"])


def sheets(answer: LotBid) -> dict[str, pd.DataFrame]:
    """Return the sheets of a bid's workbook: all numbers, then the tables in words, and what was asked."""
    case = answer.case
    about = {
        "answer": answer.sentence,
        **{f"note {number}": warning for number, warning in enumerate(answer.warnings, 1)},
        "lot": ", ".join(f"{units:,} {family}" for family, units in case.mix.items()),
        "stated condition": case.condition.replace("_", " "), "seller": case.seller, "price asked": case.price,
        "tested": case.tested_count or None, "of those working": case.good_count if case.tested else None,
        "units that came": case.received, "log": f"{answer.log_start} to {answer.log_end}",
        "rests on": f"{answer.rests_on.units} finished units of {answer.rests_on.lots} lots",
        **{f"setting {name}": value for name, value in answer.settings.items() if value is not None},
    }  # fmt: skip
    return {
        "bid": bid_table(answer), "split": split_table(answer), "costs": cost_table(answer), "drivers": driver_table(answer),
        "asked": pd.DataFrame(list(about.items()), columns=["what", "value"]).astype(object),
    }  # fmt: skip


def _span(one: Estimate, say) -> str:
    return limits_words(one.low, one.high, say)


def _money(amount: float) -> str:
    return money_words(amount, None)


def _number(value: float) -> str:
    return f"{value:,.1f}" if value != int(value) else f"{value:,.0f}"
