"""Seats, sites, sides and technicians: the verdict, figures, tables, controllers to retire, and their export."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.picture import picture
from pipelines.answers.fault_rates_record import Comparison, FaultRates, Place, Repeated
from pipelines.answers.fault_rates_text import places_table, repeated_table
from pipelines.charts.funnel import has_figure, places_figure
from pipelines.vocabulary import Clock
from pipelines.wording import fault_rates as wording
from pipelines.wording.verdict import level_words, share_words

_NUMBER = st.column_config.NumberColumn
#: What replacing a controller saves, with its limits, and their headings.
_SAVES = {"saves": "replacing saves", "low": "at least", "high": "at most"}


def verdict(answer: FaultRates) -> None:
    """Show what stands out, or that nothing does, then what to mind."""
    text.lead_and_rest(answer.sentence)
    for warning in answer.warnings:
        text.note(warning)


def comparisons(answer: FaultRates) -> None:
    """Show a figure and a table for each kind of place that the log tells of."""
    for one in answer.comparisons:
        if not one.places:
            continue
        st.subheader(wording.title_words(one.what))
        if has_figure(one):
            figure = places_figure(one, clock=Clock(answer.clock), level=answer.level)
            picture(figure, key=f"places_{one.what}", alt=f"Faults against those expected. {one.sentence}")
        _table(one, Clock(answer.clock))
    if any(one.places for one in answer.comparisons):
        text.quiet(f"From, to and in brackets: {level_words(answer.level)} intervals.")


def repeated(answer: FaultRates) -> None:
    """Show which controllers failed again and again, and what to do with them."""
    text.paragraph(answer.retire_sentence)
    if not answer.repeated:
        return
    frame = pd.DataFrame([_repeated_row(one) for one in answer.repeated])
    if answer.asked_for:
        frame = frame.drop(columns=["what to do", *_SAVES, "chance"])
    unit = f", {answer.currency}" if answer.currency else ""
    config = {"expected": _NUMBER(format="%.1f"), "chance": st.column_config.Column("chance that it saves")}
    config |= {name: _NUMBER(said, format="%,.2f") for name, said in _SAVES.items()}
    config["saves"] = _NUMBER(f"replacing saves{unit}", format="%,.2f")
    st.dataframe(frame, column_config=config, hide_index=True, placeholder="–", key="repeated", height=_height(frame))
    ends = "In brackets" if answer.asked_for else "At least, at most and in brackets"
    text.quiet(f"{ends}: {level_words(answer.level)} intervals.")


def exports(answer: FaultRates) -> None:
    """Show the buttons that give all tables as files, and the method."""
    export_buttons(answer.question, lambda: _sheets(answer))
    with st.expander("How this is worked out"):
        st.markdown(help_text("fault_rates"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def _sheets(answer: FaultRates) -> dict[str, pd.DataFrame]:
    asked = asked_sheet(answer, clock=answer.clock, answer=answer.sentence)
    return {"places": places_table(answer), "controllers": repeated_table(answer), "asked": asked}


def _table(one: Comparison, clock: Clock) -> None:
    frame = pd.DataFrame([_row(one.what, place, clock) for place in one.places])
    numbers = {
        name: _NUMBER(format="%.2f") for name in (wording.per_words(clock), "from", "to", "times expected", "luck's limit")
    }
    whole = {name: _NUMBER(format="%,.0f") for name in ("faults", "came back", "jobs", "controllers")}
    config = whole | {"expected": _NUMBER(format="%,.1f")} | numbers
    st.dataframe(frame, column_config=config, hide_index=True, placeholder="–", key=f"table_{one.what}", height=_height(frame))


def _row(what: str, place: Place, clock: Clock) -> dict[str, object]:
    seen = "came back" if what == "technician" else "faults"
    head = {
        wording.what_words(what): wording.place_words(what, place.name), seen: place.failures, "expected": place.expected,
        "times expected": _float(place.ratio), "luck's limit": _float(place.luck_high),
        "note": wording.place_note(what, place),
    }  # fmt: skip
    if what == "technician":
        return {**head, "jobs": place.jobs, "share that came back": wording.back_words(place.back_share)}
    rate = place.rate_per_1000
    told = {wording.per_words(clock): _float(rate.estimate), "from": _float(rate.low), "to": _float(rate.high)}
    return {**head, **told, "controllers": place.units}


def _repeated_row(one: Repeated) -> dict[str, object]:
    money = one.money
    saving = (None,) * 3 if money is None else (money.saving.estimate, money.saving.low, money.saving.high)
    return {
        "controller": one.unit, "what to do": "–" if money is None else wording.advice_words(money.advice),
        **{name: _float(value) for name, value in zip(_SAVES, saving, strict=True)},
        "chance": "–" if money is None else share_words(money.saves_chance), "family": one.family, "site": one.site,
        "faults": one.failures, "expected": one.expected, "against a typical one": wording.factor_words(one.factor),
    }  # fmt: skip


def _float(value: float | None) -> float:
    return float("nan") if value is None else value


def _height(frame: pd.DataFrame) -> str | int:
    return "content" if len(frame) <= 10 else 400
