"""Past lots as text for the terminal, and as tables."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.past_lots_record import PastLot, PastLots
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH, aligned
from pipelines.wording import past_lots as wording
from pipelines.wording.costs import amount_words
from pipelines.wording.verdict import level_words, limits_words, log_words

_PARTS = ("units", "fates", "unsold", "prices", "hours", "spent", "returns")


def past_lots_text(answer: PastLots) -> str:
    """Return the whole answer as text."""
    money = f" · {answer.currency}" if answer.currency else ""
    watched = log_words(answer.log_start, answer.log_end)
    blocks = [f"{answer.question} · {watched} · {level_words(answer.forecast_level)} forecasts{money}"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    if answer.lots:
        blocks.append(aligned([
            ["lot", "bought on", "units", "advised", "bid", "paid", "forecast", "turned out", "earned", "what stands out"],
            *(_row(one) for one in answer.lots),
        ]))  # fmt: skip
    blocks.append(fill(wording.sellers_sentence(answer.sellers), WIDTH))
    if answer.sellers:
        blocks.append(
            aligned([["seller", "lots", "work as found", "odds of working, × others'", ""], *map(_seller, answer.sellers)])
        )
    blocks.append(fill(wording.backlog_sentence(answer.backlog), WIDTH))
    if answer.asked_for:
        wanted = [f"  --set {one.name}=…  [{one.unit}] {one.help}" for one in answer.asked_for]
        blocks.append("\n".join(["To be given:", *(fill(one, WIDTH, subsequent_indent="      ") for one in wanted)]))
    return "\n\n".join(blocks)


def past_lots_table(answer: PastLots) -> pd.DataFrame:
    """Return one row per lot in the order of purchase: all numbers of it, for files."""
    rows = [
        {
            "lot_id": one.lot_id, "bought_on": one.bought_on, "seller": one.seller,
            "stated_condition": " | ".join(one.conditions), "units": sum(one.mix.values()),
            "mix": ", ".join(f"{family}:{units}" for family, units in one.mix.items()),
            "record_on": one.record_on, "because": one.because,
            "bid": one.bid, "paid": one.paid, "advised_bid": one.advised_bid, "loss_chance": one.loss_chance,
            **_estimate("value_forecast", one.value_forecast), "value": one.value,
            **_estimate("profit_forecast", one.profit_forecast), "profit": one.profit,
            "is_within": one.is_within, "waiting_count": one.waiting,
            **{f"apart_{part}": None if one.apart is None else getattr(one.apart, part) for part in _PARTS},
            "reason": one.reason,
        }
        for one in answer.lots
    ]  # fmt: skip
    return pd.DataFrame(rows)


def sellers_table(answer: PastLots) -> pd.DataFrame:
    """Return one row per seller, the worst first."""
    columns = ["seller", "lots", "works_count", "unit_count", "odds_ratio", "odds_ratio_low", "odds_ratio_high", "against"]
    rows = [
        (one.name, one.lots, one.works, one.units, ratio.estimate, ratio.low, ratio.high, one.against)
        for one in answer.sellers
        for ratio in [one.odds_ratio]
    ]
    return pd.DataFrame(rows, columns=columns)


def past_lots_csv(answer: PastLots) -> str:
    """Return the lots as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(past_lots_table(answer))


def past_lots_sheets(answer: PastLots) -> dict[str, pd.DataFrame]:
    """Return the sheets of the workbook: lots, sellers, and how it was asked."""
    about = {
        "answer": answer.sentence, **{f"note {number}": warning for number, warning in enumerate(answer.warnings, 1)},
        "bench": wording.backlog_sentence(answer.backlog), "log": f"{answer.log_start} to {answer.log_end}",
        "money": answer.currency, "forecast level": answer.forecast_level, "level": answer.level,
        **{f"setting {name}": value for name, value in answer.settings.items() if value is not None},
    }  # fmt: skip
    asked = pd.DataFrame(list(about.items()), columns=["what", "value"]).astype(object)
    return {"lots": past_lots_table(answer), "sellers": sellers_table(answer), "asked": asked}


def standing_out(one: PastLot) -> str:
    """Return what stands out of a lot: why it is not held against a forecast, or whether and why it came out elsewhere."""
    if one.because is not None:
        return wording.short_reason_words(one.because)
    if one.is_within:
        return ""
    return f"under: {wording.part_reason_words(one.reason)}" if one.reason else "over the forecast"


def advised_words(one: PastLot) -> str:
    """Return the bid advised, 'none' where no bid was, or a dash."""
    if one.is_bid_advised is None and one.advised_bid is None:
        return "–"
    return "none" if one.advised_bid is None else amount_words(one.advised_bid)


def _row(one: PastLot) -> list[str]:
    forecast = "–"
    if one.value_forecast is not None:
        told = one.value_forecast
        forecast = f"{amount_words(told.estimate)} ({limits_words(told.low, told.high, amount_words)})"
    return [
        one.lot_id, one.bought_on, str(sum(one.mix.values())), advised_words(one), _money(one.bid), _money(one.paid), forecast,
        _money(one.value), _money(one.profit), standing_out(one),
    ]  # fmt: skip


def _seller(one) -> list[str]:
    ratio = one.odds_ratio
    odds = f"× {ratio.estimate:.2f} ({limits_words(ratio.low, ratio.high, '{:.2f}'.format)})"
    return [one.name, str(one.lots), f"{one.works:,} of {one.units:,}", odds, wording.against_words(one.against)]


def _money(amount: float | None) -> str:
    return "–" if amount is None else amount_words(amount)


def _estimate(name: str, one) -> dict[str, float | None]:
    values = (None, None, None) if one is None else (one.estimate, one.low, one.high)
    return dict(zip((name, f"{name}_low", f"{name}_high"), values, strict=True))
