"""What is said of past lots on their screen: forecasts against results, sellers, the bench, and how it is worked out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import fields

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import export_buttons
from dashboard.parts.picture import picture
from pipelines.answers.past_lots_record import PastLot, PastLots
from pipelines.answers.past_lots_text import advised_words, past_lots_sheets, standing_out
from pipelines.charts.past_lots import past_lots_figure, shown
from pipelines.wording import past_lots as wording
from pipelines.wording.costs import amount_words
from pipelines.wording.verdict import limits_words


def verdict(answer: PastLots) -> None:
    """Say how past lots came out, and what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def lots(answer: PastLots) -> None:
    """Show forecasts and results, as a picture and a row a lot, and the export."""
    if shown(answer):
        st.subheader("Forecast and result")
        picture(past_lots_figure(answer), key="past_lots", alt=f"What was forecast of each lot and what came. {answer.sentence}")
        held = "" if not answer.held.n else f"{answer.held.k:,} of {answer.held.n:,} results lie inside their forecast. "
        text.quiet(f"{held}Each forecast is from the record as it stood at the beginning of the month of purchase.")
    if not answer.lots:
        return
    frame = pd.DataFrame({
        "lot": [one.lot_id for one in answer.lots],
        "bought": [one.bought_on for one in answer.lots],
        "seller": [one.seller for one in answer.lots],
        "units": [sum(one.mix.values()) for one in answer.lots],
        "advised": [advised_words(one) for one in answer.lots],
        "bid": [_money(one.bid) for one in answer.lots],
        "paid": [_money(one.paid) for one in answer.lots],
        "forecast": [_money(one.value_forecast and one.value_forecast.estimate) for one in answer.lots],
        "from, to": [_limits(one) for one in answer.lots],
        "turned out": [_money(one.value) for one in answer.lots],
        "earned": [_money(one.profit) for one in answer.lots],
        "what stands out": [standing_out(one) for one in answer.lots],
    })  # fmt: skip
    frame = frame.loc[:, ~(frame == "–").all()]  # nothing is told of money where a cost is missing
    _table(frame, key="lots", numbers=("advised", "bid", "paid", "forecast", "from, to", "turned out", "earned"))
    export_buttons(answer.question, lambda: past_lots_sheets(answer))
    _why(answer)


def sellers(answer: PastLots) -> None:
    """Show each seller's own record against the others'."""
    st.subheader("Sellers")
    text.paragraph(wording.sellers_sentence(answer.sellers))
    if answer.sellers:
        _table(pd.DataFrame({
            "seller": [one.name for one in answer.sellers],
            "lots": [one.lots for one in answer.sellers],
            "work as found": [f"{one.works:,} of {one.units:,}" for one in answer.sellers],
            "odds of working, × others'": [f"× {one.odds_ratio.estimate:.2f}" for one in answer.sellers],
            "from, to": [limits_words(one.odds_ratio.low, one.odds_ratio.high, "{:.2f}".format) for one in answer.sellers],
            "stands": [wording.against_words(one.against) for one in answer.sellers],
        }), key="sellers", numbers=("work as found", "odds of working, × others'", "from, to"))  # fmt: skip


def bench(answer: PastLots) -> None:
    """Say how much work is waiting."""
    st.subheader("Work that is waiting")
    text.paragraph(wording.backlog_sentence(answer.backlog))


def method(answer: PastLots) -> None:
    """Show how the numbers were made."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("past_lots"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def _why(answer: PastLots) -> None:
    """Show of what parts the difference of each disappointing lot is made."""
    found = {one.lot_id: one for one in answer.lots}
    named = [found[lot_id] for lot_id in answer.disappointing]
    if not named:
        return
    with st.expander(f"Why lots came out under the forecast ({len(named)})"):
        text.quiet("Result less forecast in its parts, in money; a minus is worse than forecast.")
        parts = [one.name for one in fields(named[0].apart)]
        frame = pd.DataFrame({
            "lot": [one.lot_id for one in named],
            "in all": [_money(one.apart.total) for one in named],
            **{wording.part_words(part): [_money(getattr(one.apart, part)) for one in named] for part in parts},
        })  # fmt: skip
        _table(frame, key="apart", numbers=[one for one in frame if one != "lot"])


def _money(amount: float | None) -> str:
    return "–" if amount is None else amount_words(amount)


def _limits(one: PastLot) -> str:
    told = one.value_forecast
    return "–" if told is None else limits_words(told.low, told.high, amount_words)


def _table(frame: pd.DataFrame, *, key: str, numbers: Collection[str] = ()) -> None:
    """Show a table; numbers: columns of numbers in words, which stand at the right."""
    st.dataframe(
        frame, hide_index=True, placeholder="–", height="content" if len(frame) <= 16 else 600, key=key,
        column_config=dict.fromkeys(numbers, st.column_config.Column(alignment="right")),
    )  # fmt: skip
