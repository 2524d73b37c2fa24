"""The screen “Early alarm”: the verdict first, the replay of one batch, all batches, export, and a batch that is picked."""

from __future__ import annotations

from importlib.resources import files

from tests.dashboard.test_screens import lead, texts


def test_the_verdict_stands_before_the_replay_and_the_table(screen):
    app = screen("batch_alarm")
    assert not app.exception
    assert "alarm" in lead(app).lower()
    kinds = [one.type for one in app.main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("download_button")
    assert [one.value for one in app.subheader] == ["One batch, day by day", "All batches"]
    assert {"Would it have come on another day?", "How this is worked out"} <= {one.label for one in app.expander}
    assert len(app.get("download_button")) == 2
    columns = [set(one.value.columns) for one in app.dataframe]
    assert all("its share" in one and "expected" not in one for one in columns)
    assert any("would ever get that far" in one for one in texts(app))


def test_a_batch_is_picked_and_the_tolerance_set(screen):
    app = screen("batch_alarm")
    names = app.selectbox(key="batch").options
    app.selectbox(key="batch").set_value(names[0])
    app.number_input(key="batch_tolerance").set_value(2.5)
    app.run()
    assert not app.exception
    assert f"Batch {names[0]}" in lead(app)
    assert any("2.5 times as often" in one for one in texts(app))


def test_the_method_note_holds_nothing_that_would_break_on_the_page():
    note = files("pipelines.wording").joinpath("help", "batch_alarm.md").read_text(encoding="utf-8")
    assert len(note) > 400
    assert "$" not in note
    assert "http" not in note
