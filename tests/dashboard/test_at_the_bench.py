"""The screen of one stick: form, costs, advice, whether chances come true, and a file of sticks."""

from __future__ import annotations

import html

import pytest

from tests.dashboard.fleet import FORMULA, SCRIPT

GIVEN = {"labour_per_hour": "20", "part_cost": "4", "return_cost": "12", "warranty_days": "90"}


def texts(app) -> list[str]:
    return [html.unescape(one.proto.body).replace("\u00a0", " ") for one in app.get("html")]


def has(app, words: str) -> bool:
    return any(words in one for one in texts(app))


def is_advised(app) -> bool:
    return any('sf-answer"' in one for one in texts(app))


def test_before_anything_is_said_it_says_what_to_do_and_whether_chances_come_true(screen):
    app = screen("at_the_bench")
    assert not app.exception
    assert has(app, "Say what is known of the stick")
    assert has(app, "was predicted from other controllers")
    assert len(app.get("plotly_chart")) == 1
    assert "Do these chances come true?" in [one.value for one in app.subheader]


def test_a_stick_gets_its_advice_and_the_pictures(screen):
    app = screen("at_the_bench", **GIVEN)
    app.selectbox(key="stick_family").set_value("Dunmarl").run()
    app.selectbox(key="stick_mode").set_value("jitter").run()
    assert not app.exception
    assert is_advised(app)
    assert has(app, "Expected cost ")
    assert len(app.get("plotly_chart")) == 2
    frame = app.dataframe[0].value
    assert set(frame["course"]) >= {"Clean it first", "Fit a new part"}
    assert (frame["note"] == "advised").sum() == 1


def test_what_is_not_given_is_asked_for(screen):
    app = screen("at_the_bench")
    app.selectbox(key="stick_family").set_value("Dunmarl").run()
    assert not app.exception
    assert not is_advised(app)
    assert has(app, "Before the cheapest course can be told, give: ")
    assert "Cost of a return" in " ".join(one.label for one in app.number_input if one.placeholder == "needed")


def test_a_reading_in_the_address_is_kept_and_one_never_seen_is_refused(screen):
    app = screen("at_the_bench", **GIVEN, af_rest_offset_pct="99.9")
    assert app.number_input(key="af_rest_offset_pct").value == 99.9
    assert has(app, "No such stick was ever cleaned (look at the rest offset)")


def test_numbers_of_cleans_that_do_not_go_together_are_refused_in_words(screen):
    app = screen("at_the_bench", **GIVEN)
    app.selectbox(key="stick_family").set_value("Dunmarl")
    app.number_input(key="stick_failed").set_value(3).run()
    assert not app.exception
    assert has(app, "3 cleans cannot have failed before clean number 1 of the module.")


@pytest.mark.parametrize("family", [SCRIPT, FORMULA])
def test_text_from_the_log_is_shown_as_it_is(screen, family):
    app = screen("at_the_bench", **GIVEN)
    app.selectbox(key="stick_family").set_value(family).run()
    assert not app.exception
    assert SCRIPT not in "".join(one.proto.body for one in app.get("html"))


def test_a_file_comes_back_with_the_advice(screen):
    app = screen("at_the_bench", **GIVEN)
    content = f"Serial,Side,Model,Fault,Remark\nX1,L,Dunmarl,jitter,{FORMULA}\nX2,R,Nobody,jitter,\n"
    app.file_uploader(key="sticks_file").upload("june.csv", content.encode(), "text/csv").run()
    assert not app.exception
    assert has(app, "Of 2 rows, ")
    shown = app.dataframe[-1].value
    assert list(shown["Serial"]) == ["X1", "X2"]
    assert "The log has no family 'Nobody'" in shown["advice note"].iloc[1]
    assert set(shown["advice"].dropna()) <= {"Clean it first", "Fit a new part", "Scrap it"}
    assert [one.label for one in app.get("download_button")][-2:] == ["CSV", "Excel"]


def test_a_file_that_is_no_table_is_refused_in_words(screen):
    app = screen("at_the_bench", **GIVEN)
    app.file_uploader(key="sticks_file").upload("june.csv", b"%PDF-1.4", "text/csv").run()
    assert not app.exception
    assert has(app, "is a PDF, not a table")
    assert has(app, "one row a stick, under the headings of your job log.")


def test_cautions_and_the_method_stand_below(screen):
    app = screen("at_the_bench")
    assert any("Isopropyl alcohol flashes at 12 °C" in one.value for one in app.markdown)
    assert any("The chance that a clean passes" in one.value for one in app.markdown)
