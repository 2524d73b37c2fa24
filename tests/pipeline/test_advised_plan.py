"""A calendar that pays, from the log to the calendar file: advised, planned with, and dated by hand from the same export."""

from __future__ import annotations

import datetime as dt
import json

import pandas as pd
import vobject

from pipelines import cli
from tests.answers.test_cleaning_interval import EXACT, GIVEN, write_fleet

SLACK_DAYS, WEEKS = 7, 13
#: `write_fleet` plays every controller so much.
HOURS_PER_DAY = 20 / 7


def test_a_rising_hazard_is_advised_planned_and_written_to_a_calendar(tmp_path, capsys):
    write_fleet(tmp_path / "exports")
    place, book = str(tmp_path / "warehouse"), tmp_path / "cleans.ics"
    assert cli.main(["load", str(tmp_path / "exports"), "--warehouse", place]) == 0
    settings = ["--warehouse", place, "--set", *(f"{name}={value}" for name, value in {**GIVEN, **EXACT}.items())]
    capsys.readouterr()

    assert cli.main(["answer", "cleaning-interval", *settings, "--format", "json"]) == 0
    (group,) = json.loads(capsys.readouterr().out)["groups"]
    assert group["planned"]["verdict"] == "clean"
    interval_h = group["slot"]["interval"]

    case = ["--case", "capacity=20", f"weeks={WEEKS}", f"slack_days={SLACK_DAYS}", "closed=sun"]
    assert cli.main(["answer", "cleaning-plan", *settings, *case, "--sheet", str(book), "--format", "json"]) == 0
    plan = json.loads(capsys.readouterr().out)
    assert plan["intervals"] == [{"by": {}, "clock": "hours", "interval": interval_h, "is_advised": True}]
    assert plan["counts"]["not_advised"] == plan["counts"]["no_usable_hours"] == plan["counts"]["late"] == 0

    due = due_by_hand(tmp_path / "exports", interval_h)
    next_cleans = {one["unit"]: dt.date.fromisoformat(one["due_on"]) for one in plan["cleans"] if one["number"] == 1}
    end = dt.date.fromisoformat(plan["end"])
    assert {unit for unit, day in due.items() if day < end - dt.timedelta(days=2)} <= set(next_cleans)
    assert all(abs((day - due[unit]).days) <= 2 for unit, day in next_cleans.items())

    read = vobject.readOne(book.read_text(encoding="utf-8"))
    shown = sorted((one.dtstart.value.isoformat(), one.summary.value.split()[1]) for one in read.vevent_list)
    assert shown == sorted((one["planned_on"], one["unit"]) for one in plan["cleans"])
    begun = dt.date.fromisoformat(plan["start"])
    for one in plan["cleans"]:
        on, by = dt.date.fromisoformat(one["planned_on"]), dt.date.fromisoformat(one["due_on"])
        assert on.weekday() != 6
        # (an overdue one has the slack; one due on a Sunday with no day before it may be a day after)
        assert by - dt.timedelta(days=SLACK_DAYS) <= on <= max(by, begun + dt.timedelta(days=SLACK_DAYS))


def due_by_hand(exports, interval_h: float) -> dict[str, dt.date]:
    """Return for each controller the day that lies the interval after its last clean or new part, at 20 hours a week."""
    jobs = pd.read_csv(exports / "jobs.csv", parse_dates=["received_on"])
    units = pd.read_csv(exports / "units.csv", parse_dates=["in_service_on"]).set_index("unit_id")
    last = jobs[jobs["action"] != "test_only"].groupby("unit_id")["received_on"].max()
    since = last.reindex(units.index).fillna(units["in_service_on"])
    return {unit: (day + pd.Timedelta(days=interval_h / HOURS_PER_DAY)).date() for unit, day in since.items()}
