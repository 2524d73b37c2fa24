"""What will fail next and what to keep on the shelf, as a reader finds and uses the pages."""

from __future__ import annotations

import pytest

from tests.dashboard.fleet import SCRIPT


def lead(app) -> str:
    return next(one.proto.body for one in app.get("html") if "sf-lead" in one.proto.body)


@pytest.mark.parametrize(("name", "title"), [("next_failures", "What will fail next"), ("shelf", "What to keep on the shelf")])
def test_each_page_opens_with_its_sentence_and_its_method(screen, name, title):
    app = screen(name)
    assert not app.exception
    assert app.title[0].value == title
    assert lead(app)
    assert any(one.label == "How this is worked out" for one in app.expander)


def test_the_likeliest_are_listed_with_chance_and_interval(screen):
    app = screen("next_failures")
    sticks = next(one.value for one in app.dataframe if "chance of a fault" in one.value)
    assert 0 < len(sticks) <= 50
    assert list(sticks[""]) == list(range(1, len(sticks) + 1))
    (interval,) = [name for name in sticks if name.endswith("% interval")]
    assert sticks[interval].str.contains(" to ").all()
    assert len(app.get("plotly_chart")) == 1
    assert "Asked on" in "".join(one.proto.body for one in app.get("html"))


def test_text_from_the_log_stays_text(screen):
    app = screen("next_failures")
    written = "".join(one.proto.body for one in app.get("html"))
    assert SCRIPT not in written
    assert not any(SCRIPT in one.value for one in app.markdown)


def test_the_lead_time_is_asked_for_and_then_modules_are_told(screen):
    app = screen("shelf")
    assert "lead time" in lead(app)
    assert app.number_input(key="lead_time_days").proto.placeholder == "needed"
    app.number_input(key="lead_time_days").set_value(40).run()
    assert not app.exception
    assert "order anew at" in lead(app)
    modules = next(one.value for one in app.dataframe if "order anew at" in one.value)
    assert (modules["order anew at"] >= 0).all()
    assert len(app.get("plotly_chart")) == 1
    more = modules["order anew at"].sum()
    app.number_input(key="fill_chance_pct").set_value(99).run()
    modules = next(one.value for one in app.dataframe if "order anew at" in one.value)
    assert modules["order anew at"].sum() > more


def test_the_time_away_on_record_stands_pale_in_its_box(screen):
    away = screen("shelf").number_input(key="turnaround_days")
    assert away.value is None
    assert float(away.placeholder) > 0
