"""Before and after a programme: what is asked, the verdict, the mean counts, the table and its export."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.export import export_buttons
from dashboard.parts.kept import KEPT
from dashboard.parts.picture import picture
from pipelines.answers.before_after_record import BeforeAfter
from pipelines.answers.before_after_text import before_after_sheets, shown_table
from pipelines.charts.before_after import before_after_figure, has_curves
from pipelines.wording.before_after import mean_count_sentence


def asked() -> dict[str, str]:
    """Ask when it began and who took part; return the words of the case, none as long as the day is not given."""
    size, choices = source.overview(), source.choices("life")
    if not size["log_start"] or not size["log_end"]:
        text.lead("Nothing to say: the log holds no day.")
        return {}
    first, last = (dt.date.fromisoformat(str(size[name])) for name in ("log_start", "log_end"))
    with st.container(border=True, key="programme"):
        when, length, site, family = st.columns([2, 2, 3, 3])
        start = when.date_input(
            "It began on", value=None, min_value=first, max_value=last, format="YYYY-MM-DD", key="start", **KEPT
        )
        span = length.number_input(
            "Days on each side",
            value=None,
            min_value=1,
            max_value=36_500,
            step=1,
            key="span_days",
            placeholder="all that fit",
            **KEPT,
        )
        case = {
            "start": None if start is None else start.isoformat(), "span_days": span,
            "site": _one(site, "Site", choices.get("site", []), "took_part_site"),
            "family": _one(family, "Family", choices.get("family", []), "took_part_family"),
            "units": st.text_area(
                "Only these controllers took part", key="units", placeholder="all; or their numbers, one a line", height=70,
                **KEPT
            ),
        }  # fmt: skip
    if start is None:
        text.lead("Give the day on which it began.")
        text.paragraph("Faults of the same controllers are then counted for as long before that day as after it.")
        return {}
    return {name: str(value) for name, value in case.items() if value not in (None, "")}


def verdict(answer: BeforeAfter) -> None:
    """Show the first sentence, the rest, and what to mind."""
    first, stop, rest = answer.sentence.partition("). ")
    text.lead(first + (stop.strip() if rest else stop))
    if rest:
        text.paragraph(rest)
    for warning in answer.warnings:
        text.note(warning)


def evidence(answer: BeforeAfter) -> None:
    """Show the mean counts, both sides in a table, and the export."""
    if has_curves(answer):
        said = mean_count_sentence(answer.mean_counts, answer.clock, answer.level)
        picture(before_after_figure(answer), key="mean_counts", alt=f"Mean faults of a controller before and after. {said}")
        if said:
            text.quiet(said)
    frame = shown_table(answer)
    if len(frame):
        st.dataframe(frame, hide_index=True, height="content", key="sides")
        export_buttons(answer.question, lambda: before_after_sheets(answer))


def method() -> None:
    """Show how the numbers are made."""
    with st.expander("How this is worked out"):
        st.markdown(help_text("before_after"))


def _one(column, label: str, known: list[str], key: str) -> str | None:
    return column.selectbox(label, sorted(known, key=str.casefold), index=None, key=key, placeholder="all", **KEPT)
