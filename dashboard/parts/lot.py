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
from pipelines.answers.lot_sheet import sheet_html, sheet_workbook
from pipelines.answers.lot_text import rests_on, sentences
from pipelines.charts.profit import profit_figure
from pipelines.charts.sensitivity import sensitivity_figure, shown
from pipelines.estimates.bins import binned
from pipelines.settings import Settings
from pipelines.wording import lots as words

_HIGHEST, _ASKED = "at the highest bid", "at the price asked"


def bid(answer: LotBid) -> None:
    """Show the highest bid and what it rests on, what the lot may earn, and what it turns into."""
    head, dot, rest = answer.sentence.partition(". ")
    (text.lead if answer.bid is None else text.answer)(head + dot.strip())
    if rest:
        text.paragraph(rest)
    for warning in answer.warnings:
        text.note(warning)
    if answer.bid is not None:
        _profit(answer)
    if answer.fates:
        st.subheader("What the lot turns into")
        turned = tables.split_table(answer).set_index("family").T
        _table(turned.rename_axis("turns into").reset_index(), key="split")
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
            text.paragraph("Nothing moves the bid: none is advised.")
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
        _table(tables.cost_table(answer), key="cost_table")
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
    at, where = answer.bid.at, _HIGHEST
    if answer.asking is not None:
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


def _table(frame: pd.DataFrame, *, key: str) -> None:
    st.dataframe(frame, hide_index=True, height="content" if len(frame) <= 16 else 600, key=key)
