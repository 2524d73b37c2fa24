"""The screen “What kind of worse”: the batch it opens with, verdict before figures, another batch and a reference, export."""

from __future__ import annotations

from tests.dashboard.test_screens import lead


def test_it_opens_with_the_batch_that_stands_out_most_and_says_first_what_kind(screen):
    app = screen("batch_pattern")
    assert not app.exception
    box = app.selectbox(key="batch")
    assert box.value == box.options[0]
    assert box.value in lead(app)
    kinds = [one.type for one in app.main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("dataframe")
    assert next(one.value for one in app.subheader) == "Both by age"
    assert "How this is worked out" in [one.label for one in app.expander]
    assert len(app.get("download_button")) == 2


def test_another_batch_is_answered_and_held_against_another(screen):
    app = screen("batch_pattern")
    other = app.selectbox(key="batch").options[1]
    app.selectbox(key="batch").set_value(other).run()
    assert not app.exception
    assert other in lead(app)
    reference = app.selectbox(key="pattern_reference").options[0]
    app.selectbox(key="pattern_reference").set_value(reference).run()
    assert not app.exception
    assert other not in app.selectbox(key="pattern_reference").options
