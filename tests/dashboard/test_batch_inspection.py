"""The screen “Incoming inspection”: verdict, charts, the plan's curve, every inspection, a plan asked for, and export."""

from __future__ import annotations

from tests.dashboard.test_screens import lead, texts


def test_the_verdict_stands_before_figures_and_tables_and_the_method_is_there(screen):
    app = screen("batch_inspection")
    assert not app.exception
    assert "inspections" in lead(app)
    kinds = [one.type for one in app.main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("dataframe")
    titles = [one.value for one in app.subheader]
    assert titles[:2] == ["Batch by batch", "What the plan lets through"]
    assert titles[-2:] == ["Every inspection", "Plan an inspection"]
    assert "How this is worked out" in [one.label for one in app.expander]
    assert len(app.get("download_button")) == 2
    assert len(app.dataframe[0].value) == 50


def test_a_plan_is_given_once_enough_is_said(screen):
    app = screen("batch_inspection")
    figures = len(app.get("plotly_chart"))
    app.number_input(key="lot").set_value(400).run()
    assert any("Give the size of the delivery" in one for one in texts(app))
    app.selectbox(key="aql").set_value("1").run()
    assert not app.exception
    assert any("test 50, accept with up to 1 nonconforming" in one for one in texts(app))
    assert len(app.get("plotly_chart")) == figures + 1


def test_an_arrow_of_the_standard_and_a_plan_worked_out(screen):
    app = screen("batch_inspection", lot="200", aql="1")
    assert any("points to a plan of another size" in one for one in texts(app))
    app.number_input(key="bad_pct").set_value(10.0).run()
    assert not app.exception
    assert any("worked out, none accepted" in one for one in texts(app))


def test_shares_that_do_not_go_together_are_said_in_words(screen):
    app = screen("batch_inspection")
    app.number_input(key="good_pct").set_value(5.0)
    app.number_input(key="bad_pct").set_value(5.0)
    app.run()
    assert not app.exception
    assert any("Give a larger share that should not pass" in one for one in texts(app))
