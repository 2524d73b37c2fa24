"""The screens “Did it work” and “Month”: what is asked for, verdict, figure, tables, files and address."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from tests.dashboard.fleet import FORMULA, MARKDOWN, SCRIPT
from tests.dashboard.test_screens import lead, texts

START = "2025-03-01"


def test_the_day_is_asked_for_before_anything_is_said(screen):
    app = screen("before_after")
    assert not app.exception
    assert "Give the day on which it began." in lead(app)
    assert not app.dataframe
    app.date_input(key="start").set_value(dt.date.fromisoformat(START)).run()
    assert not app.exception
    assert START in lead(app)


def test_verdict_picture_table_and_files_stand_in_this_order(screen):
    app = screen("before_after", start=START)
    assert not app.exception
    kinds = [one.type for one in app.main]
    assert kinds.index("plotly_chart") < kinds.index("dataframe")
    assert len(app.get("download_button")) == 2
    assert list(app.dataframe[0].value["side"]) == ["before", "after"]
    assert any("nothing to compare with" in one for one in texts(app))


def test_a_site_is_held_against_the_others_and_named_units_too(screen):
    app = screen("before_after", start=START)
    app.selectbox(key="took_part_site").set_value("north").run()
    assert not app.exception
    assert set(app.dataframe[0].value["who"]) == {"in the programme", "the others"}
    app.text_area(key="units").set_value("no-such-unit").run()
    assert not app.exception
    assert any("not among the log's own" in one for one in texts(app))
    assert "Cannot tell" in lead(app)


def test_a_day_outside_the_log_is_told_in_words(screen):
    app = screen("before_after", start=START, span_days="20000")
    assert not app.exception
    assert any("do not fit" in one for one in texts(app) + [one.value for one in app.error])


def test_a_month_is_told_at_once_with_picture_tables_and_files(screen):
    app = screen("monthly")
    assert not app.exception
    kinds = [one.type for one in app.main]
    assert kinds.index("plotly_chart") < kinds.index("dataframe")
    assert [one.value for one in app.subheader if one.value != "What it cost"] == ["By site", "Month by month"]
    assert len(app.get("download_button")) == 3
    assert "faults for 1,000" in lead(app)


def test_costs_typed_in_tell_what_an_hour_costs(screen):
    app, costs = screen("monthly"), []
    for times in (1, 2):
        for key, value in {"labour_per_hour": 30.0, "downtime_per_hour": 5.0, "part_cost": 3.0}.items():
            app.number_input(key=key).set_value(times * value)
        app.run()
        assert not app.exception
        assert "What it cost" in [one.value for one in app.subheader]
        costs.append(float(re.search(r"([\d.,]+) for each play hour", lead(app))[1].replace(",", "")))
    assert costs[1] == pytest.approx(2 * costs[0], rel=0.01)


def test_another_month_is_asked_for_and_a_wrong_one_refused_in_words(screen):
    app = screen("monthly", month="2025-06")
    assert "2025-06: " in lead(app)
    app.text_input(key="month").set_value("soon").run()
    assert not app.exception
    assert any("is no month" in one for one in texts(app) + [one.value for one in app.error])


@pytest.mark.parametrize(("name", "query"), [("before_after", {"start": START}), ("monthly", {})])
def test_no_text_from_the_log_is_run(screen, name, query):
    app = screen(name, **query)
    written = "".join(one.proto.body for one in app.get("html"))
    assert "<script>" not in written
    assert not any(word in one.value for one in app.markdown for word in (SCRIPT, MARKDOWN, FORMULA))
    assert "How this is worked out" in [one.label for one in app.expander]
