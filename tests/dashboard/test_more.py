"""“More about this”: closed it costs nothing; open, each section has its sentence, picture, table and export."""

import html

import pytest

from dashboard import source
from tests.dashboard.fleet import FORMULA, MARKDOWN, SCRIPT

SECTIONS = {
    "time_to_failure": ("still_good", "mechanisms", "together", "laws", "between", "controllers", "sites", "hours_or_days"),
    "recurrence": ("still_good", "how_often", "mechanisms", "together", "laws", "between", "controllers", "sites"),
    "cleaning_success": ("together", "all_cleaned", "controllers", "sites"),
}
#: Sections that may have nothing to draw; split by site there are no limits by site.
SOMETIMES = {"hours_or_days", "between", "sites"}


def said(app) -> str:
    return " ".join(html.unescape(one.proto.body) for one in app.get("html"))


def opened(name: str) -> dict[str, str]:
    """The words of the address with every section of a screen open."""
    return dict.fromkeys(SECTIONS[name], "true")


@pytest.fixture
def asked(monkeypatch):
    """Return a list that fills with `is_brief` of every answer asked for."""
    seen, plain = [], source.answer

    def answer(*words, is_brief=True, **more):
        seen.append(is_brief)
        return plain(*words, is_brief=is_brief, **more)

    monkeypatch.setattr(source, "answer", answer)
    return seen


@pytest.mark.parametrize("name", SECTIONS)
def test_closed_sections_ask_for_nothing_heavy_whatever_the_filter(screen, asked, name):
    app = screen(name)
    assert "More about this" in [one.value for one in app.subheader]
    app.multiselect(key="site").set_value(["north"]).run()
    assert set(asked) == {True}


@pytest.mark.parametrize("name", SECTIONS)
def test_open_sections_have_sentence_picture_table_and_export(screen, asked, name):
    closed, app = screen(name, by="site"), screen(name, by="site", **opened(name))
    assert not app.exception
    assert False in asked
    told = len(set(SECTIONS[name]) - SOMETIMES)
    assert len(said(app)) > len(said(closed)) + 40 * told
    assert len(app.get("plotly_chart")) >= len(closed.get("plotly_chart")) + told
    assert len(app.dataframe) >= len(closed.dataframe) + told
    assert len(app.get("download_button")) >= len(closed.get("download_button")) + 2 * told


@pytest.mark.parametrize("name", SECTIONS)
def test_sections_of_a_single_group_have_no_error(screen, name):
    app = screen(name, **opened(name))
    app.multiselect(key="by").set_value([]).run()
    assert not app.exception
    assert "There is only one group" in said(app)


def test_sections_that_do_not_go_with_the_split_say_so(screen):
    app = screen("recurrence", by="attempt number", **opened("recurrence"))
    assert not app.exception
    assert "This is about whole controllers" in said(app)
    app = screen("cleaning_success", by="depth of clean", **opened("cleaning_success"))
    assert not app.exception
    assert "known of those not cleaned" in said(app)


def test_the_age_that_is_typed_is_the_one_that_is_said(screen, asked):
    app = screen("time_to_failure", by="site", still_good="true")
    assert not app.exception
    assert set(asked) == {True}  # nothing heavy for it
    box = app.number_input(key="age")
    usual = box.placeholder
    assert f"At {usual} " in said(app)
    box.set_value(120.0).run()
    assert not app.exception
    assert "At 120 " in said(app)
    app.number_input(key="age").set_value(900_000.0).run()
    assert not app.exception
    assert "cannot be told: not reached in this log" in said(app)


@pytest.mark.parametrize("name", SECTIONS)
def test_limits_by_site_stand_beside_those_by_stick_unless_the_groups_are_sites(screen, name):
    plain, app = (screen(name, by="stick", **more) for more in ({}, {"sites": "true"}))
    assert not app.exception
    assert "Counted by site (3 sites)" in said(app)
    assert len(app.get("plotly_chart")) == len(plain.get("plotly_chart")) + 1
    assert "Split by site the groups are sites" in said(screen(name, by="site", sites="true"))


def test_an_answer_without_anything_to_say_has_no_more_about_it(screen):
    app = screen("cleaning_success")
    app.date_input(key="from_on").set_value("2026-06-30").run()
    app.date_input(key="to_on").set_value("2023-07-01").run()
    assert "More about this" not in [one.value for one in app.subheader]


def test_another_group_can_be_picked_for_the_picture(screen):
    app = screen("time_to_failure", by="family", mechanisms="true")
    before = said(app)
    box = app.selectbox(key="mechanisms_of")
    assert box.options
    box.set_value(("Dunmarl",)).run()
    assert not app.exception
    assert said(app) != before


def test_text_from_the_log_is_escaped_in_every_section(screen):
    app = screen("time_to_failure", by="family", **opened("time_to_failure"))
    app.multiselect(key="family").set_value([SCRIPT, MARKDOWN, FORMULA]).run()
    assert not app.exception
    assert "<script>" not in "".join(one.proto.body for one in app.get("html"))
    assert not any("outside.invalid" in one.value or SCRIPT in one.value for one in app.markdown)


def test_what_a_clean_gives_back_has_picture_table_and_cautions(screen):
    app = screen("restoration")
    assert not app.exception
    assert len(app.dataframe) == 1
    assert {"Cautions for the work at the bench", "How this is worked out"} <= {one.label for one in app.expander}


def test_factors_stand_by_first_life_and_after_a_clean(screen):
    app = screen("factors")
    assert not app.exception
    assert [one.value for one in app.subheader] == ["First life of a module", "After a clean"]
    assert "need not be the cause" in said(app)


def test_chosen_factors_are_the_ones_compared(screen):
    app = screen("factors")
    app.multiselect(key="compare").set_value(["family"]).run()
    assert not app.exception
    assert set(app.dataframe[0].value["factor"]) == {"family"}
