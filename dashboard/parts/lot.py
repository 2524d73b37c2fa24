"""What is said of a lot on its screen: the bid, what it may earn, what drives it, its test, its arrival, and the sheet."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import pandas as pd
import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import XLSX
from dashboard.parts.picture import picture
from pipelines.answers import lot_tables as tables
from pipelines.answers.lot_bid_record import LotBid
from pipelines.answers.lot_money import lot_money
from pipelines.answers.lot_sheet import sheet_html, sheet_workbook
from pipelines.answers.lot_text import rests_on, sentences
from pipelines.answers.past_lots import bid_less_curse
from pipelines.charts.profit import profit_figure
from pipelines.charts.sensitivity import sensitivity_figure, shown
from pipelines.decisions.bid import Binding
from pipelines.estimates.bins import binned
from pipelines.estimates.winners_curse import Curse
from pipelines.settings import Settings
from pipelines.wording import lots as words
from pipelines.wording import past_lots as past_words

_HIGHEST, _ASKED = "at the highest bid", "at the price asked"


def bid(answer: LotBid) -> None:
    """Show the highest bid and what it rests on, what the lot may earn, and what it turns into."""
    head, dot, rest = answer.sentence.partition(". ")
    (text.lead if answer.because is not None else text.answer)(head + dot.strip())
    if rest:
        text.paragraph(rest)
    for warning in answer.warnings:
        text.note(warning)
    if answer.bid is not None or answer.asking is not None:
        _profit(answer)
    if answer.fates:
        st.subheader("What the lot turns into")
        turned = tables.split_table(answer).set_index("family").T
        whole_first = [turned.columns[-1], *turned.columns[:-1]]
        _table(turned[whole_first].rename_axis(f"turns into ({tables.LIMITS})").reset_index(), key="split")
    if answer.expected is not None:
        st.subheader("What it takes and brings")
        _table(tables.expected_table(answer), key="expected")


def drivers(case: Mapping[str, str], settings: Settings) -> None:
    """Show what drives the bid, worked out once it is opened."""
    _drivers(dict(case), settings)


@st.fragment
def _drivers(case: dict[str, str], settings: Settings) -> None:
    box = st.expander("What drives the bid", key="drivers", bind="query-params")
    if not box.open:
        return
    with box:
        answer = source.lot_bid(case, settings, is_brief=False)
        if not answer.sensitivity or answer.bid is None or not shown(answer.sensitivity):
            has_come = answer.case.received is not None
            text.paragraph(f"Nothing moves the bid: {'the lot has come' if has_come else 'none is advised'}.")
            return
        text.paragraph(
            "Each bar is the highest bid when one thing alone is otherwise: an estimate at its 10th or 90th percentile, "
            "a number of yours 20\u00a0% less or more." + (" Before the test." if answer.test else "")
        )
        before = answer.bid.highest_bid if answer.test is None else answer.test.bid_before
        picture(
            sensitivity_figure(answer.sensitivity, bid=before or 0.0, unit=answer.currency or ""), key="sensitivity",
            alt=f"What drives the bid, the most first: {', '.join(tables.driver_table(answer)['what'].head(5))}.",
        )  # fmt: skip
        _table(tables.driver_table(answer), key="driver_table")


def past(case: Mapping[str, str], settings: Settings) -> None:
    """Show whether past lots came out as forecast, and the bid with what they fell short taken off, once it is opened."""
    _past(dict(case), settings)


@st.fragment
def _past(case: dict[str, str], settings: Settings) -> None:
    box = st.expander("Have past lots come out as forecast?", key="past", bind="query-params")
    if not box.open:
        return
    with box:
        found, answer = source.past_lots(settings), source.lot_bid(case, settings)
        if found.because is not None:
            text.paragraph(found.sentence)
            return
        curse = past_words.curse_sentence(found.curse) or past_words.untold_curse_sentence(found.curse.share.because)
        text.paragraph(f"{past_words.held_sentence(found.held, found.forecast_level)} {curse}")
        left = _less_curse(answer, found.curse, settings)
        if left is not None:
            text.lead(past_words.cursed_bid_sentence(left, answer.currency))


def _less_curse(answer: LotBid, curse: Curse, settings: Settings) -> float | None:
    """Return the highest bid with the curse taken off; None where there is none, or the curse is not shown."""
    if answer.bid is None or answer.bid.highest_bid is None:
        return None
    fees = lot_money(source.lots(), list(answer.case.mix), settings, units=answer.case.units).fees
    is_by_margin = answer.bid.binding is Binding.MARGIN
    kept = settings.margin / (1 + settings.margin) * answer.expected.cost.estimate if is_by_margin else 0.0
    return bid_less_curse(answer.bid.highest_bid, fees, curse, kept=kept)


def test(answer: LotBid) -> None:
    """Show what a test changed, and whether more of it pays."""
    if answer.test is not None and answer.bid is not None:
        one, currency = answer.test, answer.currency
        before, now = (
            "none" if amount is None else words.bid_words(amount, currency) for amount in (one.bid_before, answer.bid.highest_bid)
        )
        for column, when, amount in zip(
            st.columns(2), ("Before the test", f"With {one.good:,} of {one.tested:,} working"), (before, now), strict=True
        ):
            with column:
                text.quiet(when)
                text.lead(f"Highest bid {amount}")
    _say(answer, "testing")


def arrival(answer: LotBid) -> None:
    """Say what to do with the lot that came."""
    if answer.arrival is None:
        text.quiet("Type in how many came, and above what a test of them found: keep, claim or return is then said here.")
    _say(answer, "arrival")


def rest(answer: LotBid) -> None:
    """Say whether the bench has the time, how the seller stands, and what the bid rests on."""
    st.subheader("Bench, seller and record")
    _say(answer, "capacity", "seller")
    text.paragraph(rests_on(answer))
    with st.expander("The numbers used, and where they are from"):
        _table(tables.cost_table(answer), key="cost_table", is_numbers=False)
    with st.expander("How this is worked out"):
        st.markdown(help_text("lot_bid"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def sheet(case: Mapping[str, str], settings: Settings) -> None:
    """Show the buttons that give the lot sheet; it is made when it is asked for."""
    make = partial(source.lot_bid, dict(case), settings, is_brief=False)
    st.subheader("A sheet to keep or send")
    with st.container(horizontal=True):
        st.download_button("Page to print", lambda: sheet_html(make()), file_name="lot_sheet.html", mime="text/html",
                           key="html_lot", on_click="ignore")  # fmt: skip
        st.download_button("Excel", lambda: sheet_workbook(make()), file_name="lot_sheet.xlsx", mime=XLSX,
                           key="xlsx_lot", on_click="ignore")  # fmt: skip


def _profit(answer: LotBid) -> None:
    """Show the distribution of the profit at one price."""
    at, where = (answer.asking, _ASKED) if answer.bid is None else (answer.bid.at, _HIGHEST)
    if answer.bid is not None and answer.asking is not None:
        where = st.segmented_control(
            "Profit", [_HIGHEST, _ASKED], default=_HIGHEST, required=True, key="profit", bind="query-params",
            label_visibility="collapsed",
        )  # fmt: skip
        at = answer.bid.at if where == _HIGHEST else answer.asking
    bins = binned([value - at.price for value in answer.value_quantiles])
    picture(
        profit_figure(bins, loss_chance=at.loss_chance, expected=at.expected_profit, unit=answer.currency or ""), key="profits",
        alt=f"What the lot may earn {where}: a loss in {words.chance_words(at.loss_chance)}, "
        f"{words.money_words(at.expected_profit, answer.currency)} expected.",
    )  # fmt: skip
    _say(answer, "break_even")


def _say(answer: LotBid, *of: str) -> None:
    said = sentences(answer)
    for one in of:
        if one in said:
            text.paragraph(said[one])


def _table(frame: pd.DataFrame, *, key: str, is_numbers: bool = True) -> None:
    """Show a table; is_numbers: its columns after the first are numbers in words, which stand at the right."""
    numbers = frame.columns[1:] if is_numbers else []
    st.dataframe(
        frame, hide_index=True, height="content" if len(frame) <= 16 else 600, key=key,
        column_config=dict.fromkeys(numbers, st.column_config.Column(alignment="right")),
    )  # fmt: skip
