"""Planned cleaning: the verdict, the curve of costs, the tables and their export."""

from __future__ import annotations

from dataclasses import asdict

import pandas as pd
import streamlit as st

from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import asked_sheet, export_buttons
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.bench_case import DEPTHS
from pipelines.answers.cleaning_interval_record import CleaningInterval, IntervalGroup
from pipelines.answers.cleaning_interval_text import interval_table, verdict_lines
from pipelines.answers.question import BY_OF_A_CASE
from pipelines.charts.cleaning_cost import cleaning_cost_figure
from pipelines.vocabulary import Calendar, Clock, Question
from pipelines.wording.label import label
from pipelines.wording.planned import PER, chance_words, not_own_line, signed_share, slot_words, verdict_words
from pipelines.wording.verdict import column_words, level_words, reason_words, share_words, value_words

_NUMBER, _WORD = st.column_config.NumberColumn, st.column_config.Column


def asked() -> tuple[tuple[str, ...], str | None]:
    """Ask in the sidebar by what to split and how deep the planned clean is; None: the most usual."""
    with st.sidebar:
        by = st.multiselect(
            "Split by", BY_OF_A_CASE[Question.CLEANING_INTERVAL], default=["family"], format_func=column_words, key="planned_by",
            placeholder="all together", select_all=False, **KEPT,
        )  # fmt: skip
        depth = st.selectbox(
            "Depth of the planned clean", DEPTHS, index=None, format_func=lambda word: value_words("depth", word),
            key="planned_depth", placeholder="the most usual", **KEPT,
        )  # fmt: skip
    return tuple(by), depth


def verdict(answer: CleaningInterval) -> None:
    """Show whether to clean on a calendar, group by group where they differ, then what to mind."""
    text.lead(answer.sentence)
    if len({group.sentence for group in answer.groups}) > 1:
        lines = verdict_lines(answer)
        text.listed(lines) if len(lines) > 1 else text.paragraph(lines[0][1])
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: CleaningInterval) -> None:
    """Show the curve of one group, the tables with their export, and the method."""
    if weighed := [group for group in answer.groups if group.planned is not None]:
        group = _one_of(weighed)
        figure = cleaning_cost_figure(group, clock=Clock(answer.clock), currency=answer.currency)
        picture(figure, key="cleaning_cost", alt=f"Cost by the time between cleans. {group.sentence}")
        _intervals(answer, weighed)
    _rests_on(answer)
    export_buttons(answer.question, lambda: _sheets(answer))
    with st.expander("How this is worked out"):
        st.markdown(help_text("cleaning_interval"))
        text.quiet(f"Log watched from {answer.log_start} to {answer.log_end}.")


def _one_of(groups: list[IntervalGroup]) -> IntervalGroup:
    """Return the only group, or the one that the reader picks; it opens with most faults, of those to be cleaned if any."""
    if len(groups) == 1:
        return groups[0]
    first = max(range(len(groups)), key=lambda at: (groups[at].planned.verdict is Calendar.CLEAN, groups[at].counts["failures"]))
    names = [label(group.by) for group in groups]
    return groups[names.index(st.selectbox("Shown", names, index=first, key="cleaning_cost_of"))]


def _intervals(answer: CleaningInterval, groups: list[IntervalGroup]) -> None:
    st.subheader("How often, and what it saves")
    clock = Clock(answer.clock)
    per, unit = PER[clock]
    short = "h" if clock is Clock.HOURS else "days"
    rows = [
        {
            "group": label(group.by), "verdict": verdict_words(of.verdict), "best": of.interval if is_open else None,
            "from": of.as_good[0] if is_open and of.as_good else None, "to": of.as_good[1] if is_open and of.as_good else None,
            "kept as": slot_words(group.slot.days) if is_open and group.slot and group.slot.is_as_good else None,
            "saves": of.saving.estimate, "low": of.saving.low, "high": of.saving.high, "chance": of.saves_chance,
            "waiting": per * of.waiting.estimate, "note": "best case" if of.is_best_case else "",
        }
        for group in groups
        for of in [group.planned]
        for is_open in [of.verdict is not Calendar.NEVER]
    ]  # fmt: skip
    frame = pd.DataFrame(rows).astype({name: float for name in ("best", "from", "to")})
    styled = frame.style.format(signed_share, subset=["saves", "low", "high"]).format(chance_words, subset=["chance"])
    money = f", {answer.currency}".replace("$", "\\$") if answer.currency else ""
    config = {
        "best": _NUMBER(f"best, {short}", format="%,.0f"), "from": _NUMBER(f"as good from, {short}", format="%,.0f"),
        "to": _NUMBER(f"to, {short}", format="%,.0f"), "low": _WORD("at least"), "high": _WORD("at most"),
        "note": _WORD("note", help="Best case: if a clean gave all of the age back."),
        "chance": _WORD("chance", help="That it saves anything at all."),
        "waiting": _NUMBER(f"waiting{money}", format="%,.2f", help=f"What waiting for faults costs a stick in {unit}."),
    }  # fmt: skip
    st.dataframe(styled, column_config=config, hide_index=True, placeholder="–", key="intervals", height=_height(frame))
    text.quiet(f"At least and at most: {level_words(answer.level)} intervals.")


def _rests_on(answer: CleaningInterval) -> None:
    st.subheader("What it rests on")
    rows = [
        {
            "group": label(group.by), "faults": group.counts["failures"], "a clean can prevent": group.counts["failures_counted"],
            "shape": group.shape.estimate, "depth": value_words("depth", group.restored.depth) if group.restored.depth else None,
            "given back": group.restored.share.estimate, "harm": group.harm.share.estimate,
            "a clean": group.costs and group.costs["planned"], "a fault": group.costs and group.costs["fault"],
            "hours a week": group.use.median_h, "from": group.use.low_h, "to": group.use.high_h,
            "note": "; ".join(reason_words(one) for one in dict.fromkeys((group.because, group.restored.share.because)) if one),
        }
        for group in answer.groups
    ]  # fmt: skip
    floats = ("shape", "given back", "harm", "a clean", "a fault", "hours a week", "from", "to")
    frame = pd.DataFrame(rows).astype(dict.fromkeys(floats, float))
    styled = frame.style.format(lambda value: "–" if pd.isna(value) else share_words(value), subset=["given back", "harm"])
    money = f", {answer.currency}".replace("$", "\\$") if answer.currency else ""
    config = {
        "shape": _NUMBER("shape", format="%.2f", help="Over 1: the older a stick, the likelier it fails. 1: age is no matter."),
        "a clean": _NUMBER(f"a clean costs{money}", format="%.2f"),
        "a fault": _NUMBER(f"a fault costs{money}", format="%.2f"), "harm": _WORD("harm", help="Planned cleans that do harm."),
        "hours a week": _NUMBER("hours a week", format="%.0f", help="Play hours of the usual stick."),
        "from": _NUMBER("little", format="%.0f", help="Of a stick that is played little."),
        "to": _NUMBER("much", format="%.0f", help="Of a stick that is played much."),
    }  # fmt: skip
    st.dataframe(styled, column_config=config, hide_index=True, placeholder="–", key="rests_on", height=_height(frame))
    if not_own := answer.left_out["not_own"]:
        text.quiet(not_own_line(not_own))


def _sheets(answer: CleaningInterval) -> dict[str, pd.DataFrame]:
    curves = [
        {**group.by, **asdict(point)} for group in answer.groups if group.planned is not None for point in group.planned.curve
    ]  # fmt: skip
    return {
        "intervals": interval_table(answer),
        "costs by interval": pd.DataFrame(curves),
        "asked": asked_sheet(answer, clock=answer.clock, by=", ".join(answer.by), **answer.left_out),
    }


def _height(frame: pd.DataFrame) -> str | int:
    return "content" if len(frame) <= 16 else 600
