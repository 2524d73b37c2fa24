"""The screen “Plan a study”: verdict, picture, tables, files, what is asked, and errors in words."""

from __future__ import annotations

from tests.dashboard.fleet import SCRIPT
from tests.dashboard.test_screens import lead, texts


def test_verdict_picture_table_and_files_stand_in_this_order(screen):
    app = screen("study_plan")
    assert not app.exception
    assert app.title[0].value == "Plan a study"
    assert "To see a batch that fails 2 times as often" in lead(app)
    kinds = [one.type for one in app.main]
    assert kinds.index("plotly_chart") < kinds.index("dataframe")
    assert len(app.get("download_button")) == 2
    assert set(app.dataframe[0].value["times as often"]) == {"1.5", "2"}
    assert any(one.label == "How this is worked out" for one in app.expander)


def test_what_is_typed_changes_the_plan_and_stands_in_the_address(screen):
    app = screen("study_plan")
    app.text_input(key="study_modules").set_value("60").run()
    assert not app.exception
    assert "With 60 modules it takes" in lead(app)
    app = screen("study_plan", study_months="6", study_ratio="3")
    assert app.text_input(key="study_months").value == "6"
    assert "3 times as often" in lead(app)
    assert "in 6 months" in lead(app)


def test_a_life_to_be_shown_brings_tests(screen):
    app = screen("study_plan", study_life="300", study_shape="2")
    assert not app.exception
    assert any("To show with 90\u00a0% confidence" in one for one in texts(app))
    assert len(app.get("plotly_chart")) == 2
    assert len(app.get("download_button")) == 4


def test_groups_are_told_apart_and_text_from_the_log_stays_text(screen):
    app = screen("study_plan", study_by="family")
    assert not app.exception
    assert "group" in app.dataframe[0].value
    assert not any(SCRIPT in one.value for one in app.markdown)
    assert SCRIPT not in "".join(one.proto.body for one in app.get("html"))


def test_a_number_that_cannot_be_is_told_in_words(screen):
    app = screen("study_plan", study_ratio="0.2")
    assert not app.exception
    assert any("“A worse batch fails … times as often” = 0.2 is out of range." in one for one in texts(app))


def test_what_is_no_number_is_told_by_the_name_of_its_box(screen):
    app = screen("study_plan", study_new_share="half")
    assert not app.exception
    assert any("'half' is no number for “Of the new batch, share”." in one for one in texts(app))
    assert any("Write 12.5: digits" in one for one in texts(app))
