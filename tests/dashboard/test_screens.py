"""Every screen opens on a loaded log, says its sentence, filters, and shows text from the log as it is."""

import html

import pytest

from dashboard.parts.grid import wide_enough
from tests.dashboard.fleet import FORMULA, MARKDOWN, SCRIPT

ANSWERS = ("cleaning_success", "time_to_failure", "recurrence")
BOUGHT = ("buying", "families", "past_lots", "warranty", "at_the_bench", "planned_cleaning")


def texts(app) -> list[str]:
    """Everything written through the page's own text parts, unescaped."""
    return [html.unescape(one.proto.body) for one in app.get("html")]


def lead(app) -> str:
    return next(one for one in texts(app) if 'class="sf-lead"' in one)


@pytest.mark.parametrize("name", ["front", *ANSWERS, "restoration", "factors", "data", *BOUGHT, "before_after", "monthly"])
def test_a_screen_opens_without_an_error(screen, name):
    app = screen(name)
    assert not app.exception
    assert len(app.title) == 1
    assert lead(app)


@pytest.mark.parametrize("name", ANSWERS)
def test_an_answer_screen_has_figure_table_left_out_and_method(screen, name):
    app = screen(name)
    assert app.get("plotly_chart")
    assert len(app.dataframe) >= 1
    labels = [one.label for one in app.expander]
    assert any(label.startswith("Left out or noted") for label in labels)
    assert "How this is worked out" in labels


@pytest.mark.parametrize("name", ANSWERS)
def test_the_verdict_stands_before_the_figure(screen, name):
    kinds = [one.type for one in screen(name).main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("dataframe")


def test_the_front_screen_names_findings_and_leads_to_their_screens(screen):
    app = screen()
    assert [one.value for one in app.subheader] == [
        "Cleaning", "First life of a stick module", "How long cleans hold", "Supplier batches", "The data behind it", "Next",
        "Before you work on a controller",
    ]  # fmt: skip
    assert [one.proto.page.rpartition("/")[2] for one in app.get("page_link")][:6] == [
        "cleaning_success", "time_to_failure", "factors", "recurrence", "restoration", "batch_verdict",
    ]  # fmt: skip
    assert len(app.get("page_link")) == 8


@pytest.mark.parametrize("name", ["front", "cleaning_success", "recurrence", "restoration", "fault_rates"])
def test_cautions_stand_where_work_is_advised(screen, name):
    assert any("Isopropyl alcohol flashes at 12 °C" in one.value for one in screen(name).markdown)


@pytest.mark.parametrize("name", ANSWERS)
def test_a_split_of_nothing_gives_one_group(screen, name):
    app = screen(name)
    app.multiselect(key="by").set_value([]).run()
    assert not app.exception
    assert list(app.dataframe[0].value["group"]) == ["all together"]


@pytest.mark.parametrize("name", ANSWERS)
def test_a_filter_narrows_the_answer_and_is_said(screen, name):
    app = screen(name)
    before = app.dataframe[0].value["of"].sum()
    app.multiselect(key="site").set_value(["north"]).run()
    assert 0 < app.dataframe[0].value["of"].sum() < before
    assert any("Only site north." in one for one in texts(app))


def test_dates_narrow_the_answer(screen):
    app = screen("cleaning_success")
    before = app.dataframe[0].value["of"].sum()
    app.date_input(key="from_on").set_value("2025-07-01").run()
    assert 0 < app.dataframe[0].value["of"].sum() < before


def test_a_filter_that_leaves_nothing_says_so(screen):
    app = screen("cleaning_success")
    app.date_input(key="from_on").set_value("2026-06-30").run()
    app.date_input(key="to_on").set_value("2025-07-01").run()
    assert not app.exception
    assert "Nothing to say" in lead(app)
    assert any("The first day is after the last" in one for one in texts(app))
    assert not app.get("plotly_chart")


def test_the_horizon_changes_the_durable_column(screen):
    app = screen("cleaning_success")
    assert "good after 90 days" in app.dataframe[0].value
    app.button_group(key="horizon").set_value(180).run()
    assert "good after 180 days" in app.dataframe[0].value


def test_text_from_the_log_is_escaped_on_the_page(screen):
    app = screen("time_to_failure")
    app.multiselect(key="family").set_value([SCRIPT, MARKDOWN, FORMULA]).run()
    assert not app.exception
    written = "".join(one.proto.body for one in app.get("html"))
    assert "<script>" not in written
    assert html.escape(SCRIPT) in written
    # nothing from a log may go through markdown
    assert not any("outside.invalid" in one.value or SCRIPT in one.value for one in app.markdown)
    assert set(app.dataframe[0].value["family"]) == {SCRIPT, MARKDOWN, FORMULA}


def test_the_data_screen_lists_what_was_set_aside_and_why(screen):
    app = screen("data")
    listed = app.dataframe[1].value
    assert len(listed) == 1
    assert "<b>30 February</b>" in set(listed["value"])
    assert all(listed["reason"].str.len() > 0)
    assert list(listed["set aside"]) == ["row"]
    assert list(app.dataframe[0].value.columns[-5:]) == ["loaded at", "encoding", "delimiter", "decimal mark", "date order"]


def test_a_word_further_down_a_table_widens_its_column():
    assert wide_enough(["north"] * 8 + ["air on the closed module"]) > wide_enough(["north"] * 8 + ["opened"])
    assert wide_enough(["air on the closed module", *["north"] * 20]) is None
    assert wide_enough([]) is None


def test_the_data_screen_says_what_absent_columns_would_add(screen):
    app = screen("data")
    assert any("<b>aliases</b>: one spelling for families" in one for one in texts(app))
    assert set(app.dataframe[2].value["in your exports"]) == {"yes", "no"}
