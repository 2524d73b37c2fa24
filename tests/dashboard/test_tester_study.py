"""The screen “Is it the tester?”: verdict, figures, tables, the measure and the limit asked for, export, and no study."""

from __future__ import annotations

from tests.dashboard.test_screens import lead, texts


def test_the_verdict_stands_before_figures_and_tables_and_the_method_is_there(screen):
    app = screen("tester_study")
    assert not app.exception
    assert "rest offset" in lead(app)
    kinds = [one.type for one in app.main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("dataframe")
    assert [one.value for one in app.subheader] == ["What the spread is made of", "A stick near the limit", "Who read"]
    assert "How this is worked out" in [one.label for one in app.expander]
    assert len(app.get("download_button")) == 2


def test_another_measure_and_another_limit_are_answered(screen):
    app = screen("tester_study")
    app.selectbox(key="measure").set_value("reach").run()
    assert "reach" in lead(app)
    assert app.number_input(key="limit").placeholder == "from the table of limits"
    app.number_input(key="limit").set_value(90.0).run()
    assert not app.exception
    assert any("limit of 90" in one for one in texts(app))


def test_persons_are_named_with_their_difference(screen):
    table = screen("tester_study").dataframe[-1].value
    assert set(table["person"]) == {"heron", "plover", "avocet"}
