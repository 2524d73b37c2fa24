"""The record of a cleaning plan: the JSON contract, word for word. Days are dates, written as 2026-04-30."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.answers.asked_record import AskedRecord


@dataclass(frozen=True)
class PlanInterval:
    """Time from clean to clean: `interval` in hours or days (clock) for the controllers of `by`; is_advised, or else given."""

    by: dict[str, str | None]
    clock: str
    interval: float
    is_advised: bool


@dataclass(frozen=True)
class PlannedClean:
    """One controller on one day. uid: the same for the same clean, however often it is planned anew; sticks: those in service;
    since_on: the day from which the stick due first counts; rests_on: `readings`, `expected_hours` or `days`;
    is_late: for want of capacity; number: 1 is the controller's next clean, 2 the one after it, as if that is done when due;
    begins_at, ends_at: on the clocks of the plan's zone, such as 09:20; None where the plan keeps to no hours.
    """

    uid: str
    planned_on: str
    unit: str
    family: str | None
    site: str | None
    sticks: str
    since_on: str
    due_on: str
    is_overdue: bool
    is_late: bool
    rests_on: str
    number: int
    begins_at: str | None = None
    ends_at: str | None = None


@dataclass(frozen=True)
class CleaningPlan(AskedRecord):
    """The whole answer. capacity, and capacity_needed with which no clean would come late: controllers a day.

    site: the only one planned for, else None. window: the hours for cleaning as written, in the time zone `zone`.
    counts: controllers `in_service`, `planned`, `overdue` (of these, due before the start), `repeated` (of these, due more than
    once), `within_slack` (of these, due again within the slack: only the next clean is planned), `late` (cleans), `later` (due
    after the plan), `not_advised` (of groups without an interval), `no_usable_hours` (nothing tells how much they are played).
    """

    site: str | None
    start: str | None
    end: str | None
    capacity: int | None
    capacity_needed: int | None
    most_days_late: int
    slack_days: int
    closed: list[str]
    window: list[str]
    zone: str | None
    intervals: list[PlanInterval]
    counts: dict[str, int]
    cleans: list[PlannedClean]
