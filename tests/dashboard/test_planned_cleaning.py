"""The screen “Planned cleaning”: what is asked for, the verdict, the curve, the tables, the address, the export."""

from __future__ import annotations

import html

from tests.dashboard.fleet import SCRIPT
from tests.dashboard.test_screens import lead, texts

GIVEN = {"refund_per_fault": 3.0, "downtime_hours": 1.0, "callout_cost": 10.0, "downtime_per_hour": 5.0, "harm_pct": 2.0,
         "part_cost": 3.0}  # fmt: skip


def answered(screen, **query: str):
    app = screen("planned_cleaning", **query)
    for box in app.number_input:
        if box.key in GIVEN:
            box.set_value(GIVEN[box.key])
    app.run()
    assert not app.exception
    return app


def test_what_nothing_tells_is_asked_for(screen):
    app = screen("planned_cleaning")
    assert not app.exception
    assert "refund_per_fault" in {one.key for one in app.number_input if one.placeholder == "needed"}
    assert "give: " in "".join(texts(app))
    assert not app.get("plotly_chart")


def test_the_verdict_stands_before_the_curve_the_tables_and_the_method(screen):
    app = answered(screen)
    kinds = [one.type for one in app.main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("dataframe")
    assert lead(app)
    assert [one.value for one in app.subheader][:2] == ["How often, and what it saves", "What it rests on"]
    assert "How this is worked out" in [one.label for one in app.expander]
    assert len(app.get("download_button")) == 2
    assert any("Isopropyl alcohol" in one.value for one in app.markdown)
    verdicts = {"clean on a calendar", "do not clean on a calendar", "too close to call"}
    assert set(app.dataframe[0].value["verdict"]) <= verdicts


def test_split_and_depth_are_asked_in_the_sidebar(screen):
    app = answered(screen)
    app.multiselect(key="planned_by").set_value([]).run()
    assert not app.exception
    assert list(app.dataframe[-1].value["group"]) == ["all together"]
    app.selectbox(key="planned_depth").set_value("open").run()
    assert not app.exception
    assert set(app.dataframe[-1].value["depth"]) == {"opened and wiped"}


def test_dearer_faults_raise_the_cost_of_waiting(screen):
    app = answered(screen)
    before = app.dataframe[0].value["waiting"].sum()
    app.number_input(key="refund_per_fault").set_value(50.0).run()
    assert app.dataframe[0].value["waiting"].sum() > before


def test_text_from_the_log_is_shown_as_it_is(screen):
    app = answered(screen)
    written = "".join(one.proto.body for one in app.get("html"))
    assert "<script>" not in written
    assert SCRIPT in set(app.dataframe[-1].value["group"])
    assert html.escape(SCRIPT) not in set(app.dataframe[-1].value["group"])


def test_the_plan_is_made_once_opened_and_asks_for_what_it_needs(screen):
    assert "plan_capacity" not in {one.key for one in answered(screen).number_input}
    app = answered(screen, plan="true")
    assert "how many controllers can be cleaned in a day" in "".join(texts(app))
    assert "interval_" not in "".join(texts(app))
    app.number_input(key="plan_days").set_value(60.0)
    app.number_input(key="plan_capacity").set_value(2).run()
    assert not app.exception
    assert {"Calendar", "Page to print", "CSV"} <= {one.proto.label for one in app.get("download_button")}
    assert set(app.dataframe[-1].value["due by"]) == {"days in service"}
    app.text_input(key="plan_dates").set_value("someday").run()
    assert not app.exception
    assert "no closed day" in "".join(texts(app))


def test_a_plan_that_keeps_to_hours_shows_times_and_asks_for_the_zone(screen):
    app = answered(screen, plan="true")
    app.number_input(key="plan_days").set_value(60.0)
    app.number_input(key="plan_capacity").set_value(2).run()
    assert "time" not in app.dataframe[-1].value
    app.text_input(key="plan_window").set_value("09:00-12:00").run()
    assert "need the time zone of the site" in "".join(texts(app))
    app.selectbox(key="plan_zone").set_value("Europe/Vienna").run()
    assert not app.exception
    assert set(app.dataframe[-1].value["time"]) == {"09:00–10:30", "10:30–12:00"}
    assert any("in the time zone Europe/Vienna, one after another within 09:00-12:00" in one for one in texts(app))
    # the minutes given as a cost count: 100 for each stick are more than the hours hold
    app.number_input(key="clean_minutes").set_value(100.0).run()
    assert not app.exception
    assert "are too short: for the 2 cleans of" in "".join(texts(app))
