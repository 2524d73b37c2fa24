"""`answer cleaning-plan`: which controller is cleaned on which day, from its own readings and use."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipelines.answers.case import count, number
from pipelines.answers.clean_times import timed
from pipelines.answers.cleaning_interval import cleaning_interval
from pipelines.answers.cleaning_interval_record import CleaningInterval
from pipelines.answers.cleaning_plan_record import CleaningPlan, PlanInterval, PlannedClean
from pipelines.answers.open_days import Closed, closed_days
from pipelines.answers.open_hours import open_hours
from pipelines.answers.question import Asked
from pipelines.decisions.cleaning_plan import coming, levelled
from pipelines.errors import SettingError
from pipelines.facts.own_fleet import OwnFleet
from pipelines.facts.read import Connection, rebuilt, window
from pipelines.vocabulary import Because, Calendar, Clock, Question
from pipelines.wording import cleaning_plan as wording

#: Weeks planned, and days that a clean may come before it is due, where none are said.
WEEKS, SLACK_DAYS = 4, 7
#: A plan that would take longer, or have more cleans, is refused.
MOST_DAYS, MOST_CLEANS = 36_500, 20_000


@dataclass(frozen=True)
class PlanFacts:
    """sticks: as `OwnFleet.sticks`, with expected_hours_per_week; read to the last day of the log."""

    sticks: pd.DataFrame
    log_start: str | None
    log_end: str | None


def plan_facts(connection: Connection, asked: Asked) -> PlanFacts:
    """Read the sticks in service at the end of the log; the quiet lag is of no use to a plan."""
    lag, seen = asked.settings.quiet_lag_days, window(connection)
    fleet = OwnFleet(rebuilt(connection, replace(asked.settings, quiet_lag_days=0)) if lag else connection)
    sticks = fleet.sticks().merge(fleet.expected_use(), on="unit_id", how="left")
    return PlanFacts(sticks, seen.log_start, seen.log_end)


def cleaning_plan(connection: Connection, asked: Asked) -> CleaningPlan:
    """Answer from the log. Raises SettingError on words of the case that are none, InputError as `cleaning_interval`."""
    advice = None
    if not _given(asked):
        case = {name: value for name, value in asked.case.items() if name == "depth"}
        advice = cleaning_interval(connection, replace(asked, question=Question.CLEANING_INTERVAL, case=case))
    return plan_of(plan_facts(connection, asked), advice, asked)


def plan_of(facts: PlanFacts, advice: CleaningInterval | None, asked: Asked) -> CleaningPlan:
    """Answer from what was read before; advice: where no interval is given. Raises SettingError."""
    case, intervals = asked.case, _given(asked) or _advised(advice)
    facts = _of_site(facts, case.get("site"))
    closed, hours = closed_days(case.get("closed", "")), open_hours(case.get("window"), case.get("zone"))
    slack = count("slack_days", case.get("slack_days", str(SLACK_DAYS)))
    weeks = count("weeks", case.get("weeks", str(WEEKS)), low=1)
    if max(slack, 7 * weeks) > MOST_DAYS:
        raise SettingError("A plan of over a hundred years is of no use.", "Give fewer weeks or days.")
    capacity = count("capacity", case["capacity"], low=1) if "capacity" in case else None
    nothing = CleaningPlan(
        question=asked.question.value, log_start=facts.log_start, log_end=facts.log_end, settings=asked.settings.as_plain(),
        because=None, sentence="", warnings=[], site=case.get("site"), start=None, end=None, capacity=capacity,
        capacity_needed=None, most_days_late=0,
        slack_days=slack, closed=closed.words, window=hours.words if hours else [], zone=case.get("zone"), intervals=intervals,
        counts={"in_service": facts.sticks["unit_id"].nunique()}, cleans=[],
    )  # fmt: skip
    if facts.log_end is None or not len(facts.sticks):
        return replace(nothing, because=Because.NOTHING_IN_SERVICE, sentence=wording.nothing_sentence())
    start = _start(case.get("start"), dt.date.fromisoformat(facts.log_end))
    end = start + dt.timedelta(days=7 * weeks - 1)
    nothing = replace(nothing, start=start.isoformat(), end=end.isoformat())
    if not intervals or capacity is None:
        sentence = wording.asked_for_sentence(has_interval=bool(intervals), has_capacity=capacity is not None, advice=advice)
        return replace(nothing, because=Because.NOT_GIVEN, sentence=sentence)
    sticks = _due(facts, intervals, (start - dt.date.fromisoformat(facts.log_end)).days)
    units = sticks.sort_values(["due", "unit_id", "stick"], kind="stable").drop_duplicates("unit_id")
    known = units[units["due"].notna()]
    chosen = known[known["due"] < 7 * weeks].reset_index(drop=True)
    first, gap = chosen["due"].to_numpy(dtype=int), chosen["gap_days"].to_numpy(dtype=float)
    whose, number, due = coming(first, gap, days=7 * weeks, slack_days=slack)
    if len(due) > MOST_CLEANS:
        raise SettingError(f"That makes {len(due):,} cleans, over {MOST_CLEANS:,}.", "Plan fewer weeks, or a longer interval.")
    chosen = chosen.iloc[whose].assign(due=due, number=number)
    plan = levelled(due, _open_days(start, closed, weeks, len(due), capacity), capacity=capacity, slack_days=slack)
    names = sticks.groupby("unit_id")["stick"].agg("+".join)
    cleans = [
        _clean(row, names, start, int(day), bool(is_late))
        for row, day, is_late in zip(chosen.to_dict("records"), plan.day, plan.is_late, strict=True)
    ]
    counts = nothing.counts | {
        "planned": len(first), "overdue": int((first < 0).sum()), "repeated": int((number == 2).sum()),
        "within_slack": int((gap <= slack).sum()), "late": int(plan.is_late.sum()),
        "later": len(known) - len(first),
        "not_advised": int((units["due"].isna() & ~units["has_interval"]).sum()),
        "no_usable_hours": int((units["due"].isna() & units["has_interval"]).sum()),
    }  # fmt: skip
    because = Because.NO_USABLE_HOURS if counts["no_usable_hours"] and not len(known) else None
    in_order = sorted(cleans, key=lambda one: (one.planned_on, one.site or "", one.unit, one.number))
    if hours is not None:
        in_order = timed(in_order, hours, capacity=capacity, stick_minutes=asked.settings.clean_minutes)
    found = replace(
        nothing, because=because, counts=counts, capacity_needed=plan.capacity_needed if cleans else None,
        most_days_late=plan.most_days_late, cleans=in_order,
    )  # fmt: skip
    return replace(found, sentence=wording.sentence(found), warnings=wording.warnings(found))


def _given(asked: Asked) -> list[PlanInterval]:
    named = [clock for clock in Clock if f"interval_{clock}" in asked.case]
    if len(named) > 1:
        raise SettingError("There are two intervals, in hours and in days.", "Give one of them.")
    return [
        PlanInterval({}, clock.value, number(name, asked.case[name], low=0.5, high=1e6), False)
        for clock in named for name in [f"interval_{clock}"]
    ]  # fmt: skip


def _advised(advice: CleaningInterval | None) -> list[PlanInterval]:
    """Return the interval of each group for which a calendar is advised: the one people keep, where that is as good."""
    return [
        PlanInterval(
            one.by, advice.clock, one.slot.interval if one.slot and one.slot.is_as_good else one.planned.interval, True
        )
        for one in (advice.groups if advice else [])
        if one.planned is not None and one.planned.verdict is Calendar.CLEAN
    ]  # fmt: skip


def _of_site(facts: PlanFacts, site: str | None) -> PlanFacts:
    if site is None:
        return facts
    known = sorted(facts.sticks["site"].dropna().unique())
    if site not in known:
        remedy = f"Give one of: {', '.join(known)}." if known else "Leave site out."
        raise SettingError(f"No controller in service is at '{site}'.", remedy)
    return replace(facts, sticks=facts.sticks[facts.sticks["site"] == site])


def _start(word: str | None, log_end: dt.date) -> dt.date:
    if word is None:
        return log_end + dt.timedelta(days=1)
    try:
        start = dt.date.fromisoformat(word)
    except ValueError as error:
        raise SettingError(f"'{word}' is no date for start.", "Write it as 2026-04-30.") from error
    if not 0 <= (start - log_end).days <= MOST_DAYS:
        raise SettingError(f"A plan cannot start on {start}: the log ends on {log_end}.", "Start it that day or soon after.")
    return start


def _due(facts: PlanFacts, intervals: list[PlanInterval], days_since_log: int) -> pd.DataFrame:
    """Return the sticks with `due`, whole days after the start (missing: not known), gap_days from clean to clean, has_interval,
    and rests_on.
    """
    sticks = facts.sticks
    expected = pd.to_numeric(sticks["expected_hours_per_week"]) / 7
    pace = sticks["hours_per_day"].fillna(expected)
    age_h = sticks["age_h"].fillna(pace * sticks["age_days"])
    left, has_interval = pd.Series(np.nan, index=sticks.index), pd.Series(False, index=sticks.index)
    gap_days, per_day = left.copy(), pace.where(pace > 0, 1e-9)
    rests_on = pd.Series("days", index=sticks.index)
    for one in intervals:
        is_of = pd.Series(True, index=sticks.index)
        for column, value in one.by.items():
            is_of &= sticks[column].isna() if value is None else sticks[column] == value
        has_interval |= is_of
        if one.clock == Clock.DAYS:
            days, gap = one.interval - sticks["age_days"], one.interval
        else:  # (without play nothing is ever due, unless it is already)
            days, gap = ((one.interval - age_h) / per_day).where(pace.notna()), one.interval / per_day
            rests_on = rests_on.mask(is_of, "expected_hours").mask(is_of & sticks["hours_per_day"].notna(), "readings")
        left, gap_days = left.mask(is_of, days), gap_days.mask(is_of, gap)
    due = np.floor((left - days_since_log).clip(-1e6, 1e6))
    return sticks.assign(due=due, gap_days=gap_days, has_interval=has_interval, rests_on=rests_on)


def _open_days(start: dt.date, closed: Closed, weeks: int, cleans: int, capacity: int) -> np.ndarray:
    """Return the open days of the plan and as many after it as all cleans would take, as days after the start."""
    more = cleans // capacity + 1
    if more > MOST_DAYS:
        raise SettingError(f"With {capacity} a day {cleans:,} cleans take over a hundred years.", "Give a larger capacity.")
    days = np.arange(7 * weeks + 7 * more + len(closed.dates) + 7)
    weekdays = (days + start.weekday()) % 7
    shut = [(day - start).days for day in closed.dates]
    return days[~np.isin(weekdays, list(closed.weekdays)) & ~np.isin(days, shut)]


def _clean(row: dict, names: pd.Series, start: dt.date, day: int, is_late: bool) -> PlannedClean:
    unit, since, number = row["unit_id"], row["since_on"], int(row["number"])
    which = f" {number}" if number > 1 else ""
    due = max(int(row["due"]), -start.toordinal() + 1)
    return PlannedClean(
        uid=str(uuid.uuid5(uuid.NAMESPACE_OID, f"stickfleet clean {unit} {since}{which}")),
        planned_on=(start + dt.timedelta(days=day)).isoformat(), unit=unit, family=_word(row["family"]), site=_word(row["site"]),
        sticks=names[unit], since_on=since, due_on=(start + dt.timedelta(days=due)).isoformat(), is_overdue=due < 0,
        is_late=is_late, rests_on=row["rests_on"], number=number,
    )  # fmt: skip


def _word(value: object) -> str | None:
    return value if isinstance(value, str) else None
