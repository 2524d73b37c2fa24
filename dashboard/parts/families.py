"""Which families to buy: what is asked about, the verdict, the figure, the table and its export."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.grid import wide_enough
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.ranking_record import FamilyRow, Ranking
from pipelines.answers.ranking_text import ranking_table
from pipelines.charts.ranking import ranking_figure, shown, undrawn
from pipelines.vocabulary import StatedCondition
from pipelines.wording.ranking import advice_words, condition_words, earn_words, origin_words, rank_words, rests_words
from pipelines.wording.verdict import share_words

_NUMBER, _WORD = st.column_config.NumberColumn, st.column_config.Column


def case() -> dict[str, str]:
    """Ask in the sidebar in which condition units are bought, and for prices that are known better."""
    with st.sidebar:
        condition = st.selectbox(
            "Stated condition", [one.value for one in StatedCondition], index=None, key="condition", format_func=condition_words,
            placeholder="that of most lots", **KEPT,
        )  # fmt: skip
        prices = st.text_input(
            "Prices of a unit, if not the going ones", key="unit_prices", placeholder="Family:12.50, Other:9", **KEPT,
            help="What a unit would cost you, all fees in. Other families stay at what was paid for them.",
        )  # fmt: skip
    return {name: value for name, value in (("condition", condition), ("price", prices)) if value}


def verdict(answer: Ranking) -> None:
    """Show what to buy and what not, then what to mind."""
    text.lead(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: Ranking) -> None:
    """Show the figure, the table with its export, and the method."""
    if shown(answer):
        picture(ranking_figure(answer), key="ranking", alt=f"Profit of a unit with its interval, by family. {answer.sentence}")
        if undrawn(answer):
            text.quiet(f"The table below holds {undrawn(answer):,} more.")
    if answer.families:
        _table(answer)
        export_buttons(answer.question, lambda: _sheets(answer))
    with st.expander("How this is worked out"):
        st.markdown(help_text("family_ranking"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def _sheets(answer: Ranking) -> dict[str, pd.DataFrame]:
    asked = asked_sheet(answer, condition="" if answer.case is None else answer.case.condition)
    return {"families": ranking_table(answer), "asked": asked}


def _table(answer: Ranking) -> None:
    currency = f", {answer.currency}" if answer.currency else ""
    heading = {
        "profit": f"profit of a unit{currency}", "price": f"its price{currency}", "to": "to", "from": "from",
        "bench hours": "bench hours", "hours per 100": f"bench hours per 100{currency.replace(',', '')} earned",
    }  # fmt: skip
    frame = pd.DataFrame([_row(one) for one in answer.families])
    if not shown(answer):  # nothing of money is known
        frame = frame.drop(columns=["to do", "profit", "from", "to", "chance of profit", "rank", "bench hours", "hours per 100"])
    shares = ["can be sold", "cleaned"]
    styled = frame.style.apply(lambda column: ["color: #808080" if one.is_thin else "" for one in answer.families]).format(
        lambda value: "–" if pd.isna(value) else share_words(value), subset=shares
    )
    config: dict[str, object] = {name: _NUMBER(said, format="%.2f") for name, said in heading.items()}
    config |= {name: _WORD(name) for name in shares}
    config["family"] = _WORD(width=wide_enough(frame["family"]))
    st.dataframe(
        styled, column_config=config, hide_index=True, placeholder="–", key="families",
        height="content" if len(frame) <= 16 else 600,
    )  # fmt: skip


def _row(row: FamilyRow) -> dict[str, object]:
    ratio = row.bench_h_per_profit.estimate
    return {
        "family": row.family, "to do": advice_words(row.advice), "profit": _float(row.profit_per_unit.estimate),
        "from": _float(row.profit_per_unit.low), "to": _float(row.profit_per_unit.high),
        "chance of profit": earn_words(row.earn_chance), "rank": rank_words(row.rank) or "–",
        "price": _float(row.paid.price.estimate), "price from": origin_words(row.paid), "can be sold": row.good_share.estimate,
        "cleaned": row.cleaned_share.estimate, "bench hours": _float(row.bench_h_per_unit.estimate),
        "hours per 100": _float(None if ratio is None else 100 * ratio), "rests on": rests_words(row),
    }  # fmt: skip


def _float(value: float | None) -> float:
    return float("nan") if value is None else value
