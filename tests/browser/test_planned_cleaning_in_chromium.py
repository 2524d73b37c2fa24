"""From costs to the interval, to the plan and to the calendar file, in a real browser; the file is read back."""

from icalendar import Calendar

from pipelines.answers import ask
from pipelines.settings import Settings
from pipelines.warehouse import reading
from tests.browser.acts import downloaded, fill, look_up

COSTS = {"refund_per_fault": 3.0, "downtime_per_hour": 2.0, "downtime_hours": 1.0, "callout_cost": 4.0}
CASE = {"interval_days": "60.0", "capacity": "5", "weeks": "4", "slack_days": "7"}


def test_from_costs_to_interval_to_plan_to_calendar_file(visit, server):
    with reading(server.warehouse) as connection:
        advised = ask("cleaning-interval", connection, by=["family"], settings=Settings(**COSTS))
        plan = ask("cleaning-plan", connection, by=["family"], case=CASE, settings=Settings(**COSTS))
    one = visit()
    one.open("planned_cleaning?downtime_per_hour=2&downtime_hours=1&callout_cost=4")
    assert one.lead.startswith("Before an interval can be told, give: ")
    fill(one, "refund_per_fault", 3)
    assert one.lead == advised.sentence

    one.does(lambda: one.page.locator(".st-key-plan summary").click())
    fill(one, "plan_days", 60)
    fill(one, "plan_capacity", 5)
    assert plan.cleans
    assert plan.sentence in one.page.get_by_test_id("stMain").inner_text()
    events = Calendar.from_ical(downloaded(one, "plan_ics")).walk("VEVENT")
    days = sorted((event.decoded("dtstart").isoformat(), str(event["status"])) for event in events)
    assert [day for day, _ in days] == sorted(str(clean.planned_on) for clean in plan.cleans)
    assert {status for _, status in days} == {"CONFIRMED"}

    fill(one, "plan_window", "08:30-10:00")
    look_up(one, "plan_zone", "Europe/Vienna")
    assert "in the time zone Europe/Vienna" in one.page.get_by_test_id("stMain").inner_text()
    events = Calendar.from_ical(downloaded(one, "plan_ics")).walk("VEVENT")
    times = {(f"{event.decoded('dtstart'):%H:%M}", str(event.decoded("dtstart").tzinfo)) for event in events}
    assert times <= {(f"{(510 + 18 * place) // 60:02d}:{(510 + 18 * place) % 60:02d}", "Europe/Vienna") for place in range(5)}
    assert [str(event.decoded("dtstart").date()) for event in events] == [str(clean.planned_on) for clean in plan.cleans]
