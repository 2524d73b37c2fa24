"""The plan of cleans: interval, capacity and closed days in; who is cleaned on which day, as calendar, page and table, out."""

from __future__ import annotations

import datetime as dt
from zoneinfo import available_timezones

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.evidence import help_text
from dashboard.parts.kept import KEPT
from pipelines.answers.cleaning_interval_record import CleaningInterval
from pipelines.answers.cleaning_plan_calendar import plan_calendar
from pipelines.answers.cleaning_plan_record import CleaningPlan
from pipelines.answers.cleaning_plan_sheet import plan_html
from pipelines.answers.cleaning_plan_text import plan_table, shown_table
from pipelines.answers.files import csv_bytes
from pipelines.errors import FleetError
from pipelines.settings import Settings
from pipelines.wording import cleaning_plan as wording

_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_HOURS = (
    "Several are written as 09:00-12:00,14:00-16:00. Each stick takes the minutes of one clean, where given above; else the "
    "cleans of a day share the hours evenly."
)
_DATES = "Days and stretches of days: 2026-12-24, 2026-12-27..2027-01-03"


@st.fragment
def plan(advice: CleaningInterval, chosen: Settings) -> None:
    """Show the plan once its section is opened; advice: what the interval is taken from where none is given."""
    box = st.expander("The plan", key="plan", bind="query-params")
    if not box.open:
        return
    with box:
        case, given = _asked()
        try:
            answer = source.plan(case, advice, chosen)
            previous = given.getvalue() if given is not None else None
            calendar = plan_calendar(answer, previous)
        except FleetError as error:
            text.note(error.what)
            text.paragraph(error.remedy)
            return
        text.lead(answer.sentence)
        for warning in answer.warnings:
            text.note(warning)
        if answer.cleans or previous is not None:
            _shown(answer, calendar)
        st.markdown(help_text("cleaning_plan"))


def _number(place, label: str, key: str, placeholder: str, *, most: float, step: float) -> float | None:
    """Ask for a number from 1 on, whole where the step is; None as long as none is given."""
    return place.number_input(
        label, value=None, min_value=type(step)(1), max_value=most, step=step, key=key, placeholder=placeholder, **KEPT
    )


def _asked() -> tuple[dict[str, str], object]:
    """Ask for what a plan needs; return the words of the case, and the calendar file of last time if there is one."""
    first, second, third, fourth = st.columns(4)
    hours = _number(first, "Play hours from clean to clean", "plan_hours", "as advised", most=1e6, step=10.0)
    days = _number(second, "or days in service", "plan_days", "as advised", most=1e6, step=7.0)
    capacity = _number(third, "Controllers a day", "plan_capacity", "needed", most=1_000_000, step=1)
    start = fourth.date_input("First day", value=None, format="YYYY-MM-DD", key="plan_start", **KEPT)
    first, second, third, fourth, fifth = st.columns(5)
    weeks = first.number_input("Weeks", value=4, min_value=1, step=1, key="plan_weeks", **KEPT)
    slack = second.number_input("May be early by, days", value=7, min_value=0, step=1, key="plan_slack", **KEPT)
    weekdays = third.multiselect(
        "Closed or busy on", _WEEKDAYS, format_func=str.title, key="plan_weekdays", placeholder="none", **KEPT
    )
    dates = fourth.text_input("and on", key="plan_dates", placeholder="2026-12-24", help=_DATES, **KEPT)
    sites = source.choices("life").get("site", [])
    site = fifth.selectbox("Site", sites, index=None, placeholder="all together", key="plan_site", **KEPT)
    first, second, _ = st.columns(3)
    window = first.text_input(
        "Hours for cleaning", value="", key="plan_window", placeholder="any, or such as 09:00-12:00", help=_HOURS, **KEPT
    )
    zone = second.selectbox(
        "Time zone of these hours", sorted(available_timezones()), index=None, key="plan_zone",
        placeholder="needed" if window.strip() else "none", **KEPT,
    )  # fmt: skip
    given = st.file_uploader("Calendar file of last time, so that calendars take the changes", type=["ics"], key="plan_previous")
    case = {
        "site": site, "window": window.strip(), "zone": zone,
        "interval_hours": hours, "interval_days": days, "capacity": capacity, "weeks": weeks, "slack_days": slack,
        "start": start.isoformat() if isinstance(start, dt.date) else None, "closed": ",".join([*weekdays, dates or ""]),
    }  # fmt: skip
    return {name: str(value) for name, value in case.items() if value not in (None, "")}, given


def _shown(answer: CleaningPlan, calendar: bytes) -> None:
    for line in wording.interval_lines(answer):
        text.paragraph(line)
    frame = shown_table(answer)
    st.dataframe(frame, hide_index=True, height="content" if len(frame) <= 16 else 600, key="plan_table")
    text.quiet(wording.frame_note(answer))
    name = "_".join(filter(None, ("cleans", answer.site, answer.start)))
    files = (
        ("Calendar", "ics", "text/calendar", lambda: calendar),
        ("Page to print", "html", "text/html", lambda: plan_html(answer)),
        ("CSV", "csv", "text/csv", lambda: csv_bytes(plan_table(answer))),
    )
    with st.container(horizontal=True):
        for label, suffix, mime, make in files:
            st.download_button(
                label, make, file_name=f"{name}.{suffix}", mime=mime, key=f"plan_{suffix}", on_click="ignore"
            )  # fmt: skip
