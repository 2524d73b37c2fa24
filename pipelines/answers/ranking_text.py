"""A ranking of families as text for the terminal, and as one table."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.ranking_record import FamilyRow, Ranking
from pipelines.answers.table import frame_csv, named
from pipelines.answers.text import WIDTH, aligned
from pipelines.estimates.estimate import Estimate
from pipelines.wording.lots import money_words
from pipelines.wording.ranking import advice_words, earn_words, price_words, rank_words
from pipelines.wording.verdict import counted, level_words, limits_words, log_words, share_words


def ranking_text(answer: Ranking) -> str:
    """Return the whole answer as text."""
    money = f" · {answer.currency}" if answer.currency else ""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals{money}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if answer.families:
        head = ["family", "profit a unit", "interval", "chance of profit", "rank", "advice", "can be sold", "cleaned", "bench h",
                "h per 100 earned"]  # fmt: skip
        blocks.append(aligned([head, *map(_row, answer.families)]))
        prices = "; ".join(f"{row.family} {price_words(row.paid, answer.currency)}" for row in answer.families)
        blocks.append(fill(f"Price of a unit: {prices}.", WIDTH))
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    blocks.append(f"It rests on {counted(answer.units, 'finished unit')} of {counted(answer.lots, 'past lot')}.")
    return "\n\n".join(blocks)


def ranking_table(answer: Ranking) -> pd.DataFrame:
    """Return one row a family, the best first; shares from 0 to 1, money of one unit."""
    return pd.DataFrame([_flat(row) for row in answer.families])


def ranking_csv(answer: Ranking) -> str:
    """Return the table as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(ranking_table(answer))


def _flat(row: FamilyRow) -> dict[str, object]:
    return {
        "family": row.family, "advice": row.advice.value, "rank": row.rank.rank, "rank_low": row.rank.low,
        "rank_high": row.rank.high, **named("profit_per_unit", row.profit_per_unit), "earn_chance": row.earn_chance,
        **named("price", row.paid.price), "price_from": row.paid.origin, "price_lot_count": row.paid.lots,
        **named("good_share", row.good_share), **named("cleaned_share", row.cleaned_share),
        **named("bench_h_per_unit", row.bench_h_per_unit), **named("bench_h_per_profit", row.bench_h_per_profit),
        "unit_count": row.units, "lot_count": row.lots, "is_thin": row.is_thin, "is_borrowed": row.is_borrowed,
        "because": row.because,
    }  # fmt: skip


def _row(row: FamilyRow) -> list[str]:
    per_100 = row.bench_h_per_profit.estimate
    return [
        row.family, _said(row.profit_per_unit.estimate, _money), _span(row.profit_per_unit), earn_words(row.earn_chance),
        rank_words(row.rank) or "–",
        advice_words(row.advice), _said(row.good_share.estimate, share_words), _said(row.cleaned_share.estimate, share_words),
        _said(row.bench_h_per_unit.estimate, lambda hours: f"{hours:.2f}"),
        _said(None if per_100 is None else 100 * per_100, lambda hours: f"{hours:.1f}"),
    ]  # fmt: skip


def _money(amount: float) -> str:
    return money_words(amount, None)


def _said(value: float | None, say) -> str:
    return "–" if value is None else say(value)


def _span(one: Estimate) -> str:
    return "–" if one.estimate is None else limits_words(one.low, one.high, _money)
