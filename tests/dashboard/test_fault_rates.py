"""The screen “Which seat eats sticks”: the verdict first, figures and tables, costs for retiring, export, and text as it is."""

from __future__ import annotations

from importlib.resources import files

from tests.dashboard.fleet import SCRIPT
from tests.dashboard.test_screens import lead, texts


def test_the_verdict_stands_before_figures_and_tables_and_the_method_is_there(screen):
    app = screen("fault_rates")
    assert not app.exception
    assert "seat" in lead(app)
    kinds = [one.type for one in app.main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("dataframe")
    titles = [one.value for one in app.subheader]
    assert titles == ["Seats", "Sites", "Left and right", "Who repaired", "Same controller again and again: retire it?"]
    assert "How this is worked out" in [one.label for one in app.expander]
    assert len(app.get("download_button")) == 2


def test_what_retiring_costs_is_asked_for_and_then_weighed(screen):
    app = screen("fault_rates")
    wanted = {one.key for one in app.number_input if one.placeholder == "needed"}
    assert wanted == {"unit_price", "fault_cost", "keep_weeks"}
    assert "what to do" not in app.dataframe[-1].value
    for key, value in {"unit_price": 40.0, "fault_cost": 20.0, "keep_weeks": 80.0}.items():
        app.number_input(key=key).set_value(value)
    app.run()
    assert not app.exception
    assert set(app.dataframe[-1].value["what to do"]) <= {"replace it", "keep it", "cannot tell"}
    assert not any("needs from you" in one for one in texts(app))


def test_text_from_the_log_is_shown_as_it_is(screen):
    app = screen("fault_rates")
    assert SCRIPT in set(app.dataframe[-1].value["family"])
    assert "<script>" not in "".join(one.proto.body for one in app.get("html"))


def test_the_method_note_holds_nothing_that_would_break_on_the_page():
    note = files("pipelines.wording").joinpath("help", "fault_rates.md").read_text(encoding="utf-8")
    assert len(note) > 400
    assert "$" not in note
    assert "http" not in note
