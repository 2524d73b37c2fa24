"""Every screen in a real browser: it opens, filters, exports, escapes, asks no one outside, and can be read."""

import io
import urllib.parse

import openpyxl
import pandas as pd
import pytest

from pipelines.answers import ask
from pipelines.answers.table import table
from pipelines.charts.theme import DARK, LIGHT
from pipelines.load import load
from pipelines.settings import Settings
from pipelines.warehouse import reading
from tests.dashboard.fleet import FORMULA, MARKDOWN, SCRIPT, write_exports

SCREENS = {
    "What stands out": "What stands out",
    "Cleaning success": "Cleaning success",
    "Time to failure": "Time to failure",
    "Recurrence": "Recurrence after cleaning",
    "What a clean gives back": "What a clean gives back",
    "What goes with failing sooner": "What goes with failing sooner",
    "Data": "Data",
    "Planned cleaning": "Planned cleaning",
    "What will fail next": "What will fail next",
    "What to keep on the shelf": "What to keep on the shelf",
    "Did it work?": "Did it work?",
    "Month": "Month",
    "Which seat eats sticks": "Which seat eats sticks",
    "What to bid for a lot": "What to bid for a lot",
    "Which families to buy": "Which families to buy",
    "Past lots": "Past lots",
    "Warranty": "Warranty",
    "Clean it or replace it?": "Clean it or replace it?",
    "Batches compared": "Batches compared",
    "What kind of worse": "What kind of worse",
    "Early alarm": "Early alarm",
    "Contain a batch": "Contain a batch",
    "Evidence pack": "Evidence pack",
    "Incoming inspection": "Incoming inspection",
    "Is it the tester?": "Is it the tester?",
    "Plan a study": "Plan a study",
}
ANSWERS = {"cleaning_success": "cleaning-success", "time_to_failure": "time-to-failure", "recurrence": "recurrence"}

#: Answers with every section open.
OPENED = (
    "cleaning_success?together=true&all_cleaned=true&controllers=true",
    "time_to_failure?mechanisms=true&together=true&laws=true&between=true&controllers=true&hours_or_days=true",
    "recurrence?by=family&how_often=true&mechanisms=true&together=true&laws=true&between=true&controllers=true",
)
#: Screens that ask for costs, as they open.
BOUGHT = ("buying", "families", "past_lots", "warranty", "at_the_bench")
#: Screens of a floor that is kept going.
FLOOR = ("planned_cleaning", "next_failures", "shelf", "before_after", "monthly", "fault_rates")
#: Screens of an analyst who follows supplier batches.
SUPPLIERS = (
    "batch_verdict", "batch_pattern", "batch_alarm", "batch_containment", "batch_exhibit", "batch_inspection", "tester_study",
    "study_plan",
)  # fmt: skip

#: A bid with all there is to show of it.
BID = (
    "buying?family_1=Dunmarl&units_1=30&family_2=Elspret&units_2=12&condition=untested&price=200&other_fault_pct=6&return_cost=9"
    "&tested_1=8&good_1=5&received=40&stated_good_pct=70&bench_hours_free=20&drivers=true"
)


def downloaded(visit, key: str) -> bytes:
    with visit.page.expect_download() as waiting:
        visit.page.locator(f".st-key-{key} button").click()
    return waiting.value.path().read_bytes()


def query(visit) -> dict[str, list[str]]:
    return urllib.parse.parse_qs(urllib.parse.urlsplit(visit.page.url).query)


def choose(visit, key: str, value: str) -> None:
    box = visit.page.locator(f".st-key-{key}")
    box.scroll_into_view_if_needed()
    visit.page.wait_for_timeout(300)  # a list that is opened while the side scrolls closes again
    box.locator("input").click()
    visit.does(lambda: visit.page.get_by_role("option", name=value, exact=True).click())
    visit.page.keyboard.press("Escape")


def test_every_screen_opens_from_the_navigation(visit):
    one = visit()
    one.open()
    for link, heading in SCREENS.items():
        one.go(link)
        assert one.page.get_by_role("heading", level=1).inner_text() == heading
        assert one.lead


def test_every_finding_on_the_front_leads_to_a_screen(visit):
    one = visit()
    one.open()
    count = one.page.get_by_test_id("stPageLink").count()
    assert count == 8
    for place in range(count):
        one.open()
        one.does(lambda place=place: one.page.get_by_test_id("stPageLink").nth(place).get_by_role("link").click())
        assert one.page.get_by_role("heading", level=1).inner_text() in set(SCREENS.values()) - {"What stands out"}


@pytest.mark.parametrize("name", ANSWERS)
def test_a_filter_goes_into_the_address_and_comes_back_from_it(visit, name):
    one = visit()
    one.open(name)
    before = one.lead
    choose(one, "site", "north")
    assert query(one)["site"] == ["north"]
    assert "Only site north." in one.page.get_by_test_id("stMain").inner_text()
    filtered = one.lead
    another = visit()
    another.open(f"{name}?{urllib.parse.urlsplit(one.page.url).query}")
    assert another.lead == filtered != before


def test_filters_go_along_to_the_next_screen(visit):
    one = visit()
    one.open("cleaning_success")
    choose(one, "site", "south")
    one.go("Recurrence")
    assert query(one)["site"] == ["south"]


@pytest.mark.parametrize(("name", "question"), ANSWERS.items())
def test_the_csv_holds_what_the_question_answers(visit, server, name, question):
    one = visit()
    one.open(f"{name}?by=site")
    read = pd.read_csv(io.BytesIO(downloaded(one, f"csv_{question}")), encoding="utf-8-sig")
    with reading(server.warehouse) as connection:
        told = table(ask(question, connection, by=["site"], is_brief=True))
    expected = pd.read_csv(io.StringIO(told.to_csv(index=False)))
    pd.testing.assert_frame_equal(read, expected)


@pytest.mark.parametrize(("name", "question"), ANSWERS.items())
def test_the_workbook_opens_and_holds_no_formula(visit, name, question):
    one = visit()
    one.open(f"{name}?by=family")
    book = openpyxl.load_workbook(io.BytesIO(downloaded(one, f"xlsx_{question}")))
    assert {"groups", "left out", "asked"} <= set(book.sheetnames)
    families = {row[0].value for row in book["groups"].iter_rows(min_row=2)}
    assert {f"'{FORMULA}", SCRIPT, MARKDOWN} <= families
    assert not any(cell.data_type == "f" for sheet in book for row in sheet.iter_rows() for cell in row)


def test_what_was_set_aside_can_be_exported(visit):
    one = visit()
    one.open("data")
    read = pd.read_csv(io.BytesIO(downloaded(one, "csv_set_aside")), encoding="utf-8-sig")
    assert list(read["value"]) == ["<b>30 February</b>"]
    assert read["file"].iloc[0] == "jobs.csv"
    assert read["line"].iloc[0] > 1000


def test_hostile_text_is_shown_and_not_run(visit):
    one = visit()
    one.open("time_to_failure?by=family")
    for family in (SCRIPT, MARKDOWN, FORMULA):
        choose(one, "family", family)
    main = one.page.get_by_test_id("stMain")
    shown = main.locator(".sf-quiet").first.inner_text()
    assert all(family in shown for family in (SCRIPT, MARKDOWN, FORMULA))
    assert main.locator("script").count() == 0
    assert main.locator("a[href*='outside.invalid']").count() == 0
    legend = main.locator(".js-plotly-plot .legendtext").all_text_contents()
    assert set(legend) == {SCRIPT, MARKDOWN, FORMULA}


def test_a_section_opens_goes_into_the_address_and_leaves_the_rest_standing(visit):
    one = visit()
    one.open("time_to_failure?by=site")
    figures = one.page.locator(".js-plotly-plot")
    before = figures.count()
    one.page.evaluate("document.querySelector('.js-plotly-plot').stands = true")
    one.does(lambda: one.page.get_by_text("Which fault ends them").click())
    assert query(one)["mechanisms"] == ["true"]
    assert figures.count() == before + 1
    assert one.page.evaluate("document.querySelector('.js-plotly-plot').stands")
    read = pd.read_csv(io.BytesIO(downloaded(one, "csv_time-to-failure_mechanisms")), encoding="utf-8-sig")
    assert {"site", "failed_by", "failed_share", "failed_share_low"} <= set(read.columns)


def test_the_picked_group_of_a_section_is_named_as_the_log_has_it(visit):
    one = visit()
    one.open("time_to_failure?by=family&laws=true")
    main = one.page.get_by_test_id("stMain")
    opener = main.locator(".st-key-laws_of").get_by_role("button", name="Open")
    opener.scroll_into_view_if_needed()
    one.page.wait_for_timeout(3000)  # while pictures are still being laid out a list closes again
    opener.click()
    for family in (SCRIPT, MARKDOWN, FORMULA):
        one.page.get_by_role("option", name=family, exact=True).wait_for()
    one.does(lambda: one.page.get_by_role("option", name=MARKDOWN, exact=True).click())
    assert main.locator("a[href*='outside.invalid']").count() == 0


def test_hovering_a_curve_says_how_many_are_at_risk(visit):
    one = visit()
    one.open("recurrence?by=")
    one.page.locator(".js-plotly-plot .xy .drag").first.hover(position={"x": 60, "y": 60})
    names = one.page.evaluate("document.querySelector('.js-plotly-plot')._fullData.map(t => t.hovertemplate || '')")
    assert any("at risk" in name for name in names)


@pytest.mark.parametrize(("scheme", "colors"), [("light", LIGHT), ("dark", DARK)])
def test_figures_follow_the_reader_into_the_dark(visit, scheme, colors):
    one = visit(scheme=scheme)
    one.open("time_to_failure?by=site")
    drawn = one.page.evaluate(
        "document.querySelector('.js-plotly-plot')._fullData.filter(one => one.showlegend).map(one => one.line.color)"
    )
    assert [color.lower()[:7] for color in drawn] == list(colors[: len(drawn)])
    assert len(drawn) >= 2


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["", *ANSWERS, *OPENED, "restoration", "factors", "data", *BOUGHT, BID, *FLOOR, *SUPPLIERS])
def test_nothing_is_wider_than_a_phone(visit, name, scheme):
    one = visit(width=390, height=844, scheme=scheme)
    one.open(name)
    main = one.page.get_by_test_id("stMain")
    assert main.evaluate("one => one.scrollWidth") <= main.evaluate("one => one.clientWidth") <= 390


def test_a_load_shows_by_itself(visit, server, tmp_path):
    one = visit()
    one.open()
    before = one.lead
    load([write_exports(tmp_path / "more", jobs=400, seed=11)], warehouse=server.warehouse, settings=Settings())
    one.page.wait_for_function("before => document.querySelector('.sf-lead')?.innerText !== before", arg=before, timeout=30_000)
    assert "jobs on" in one.lead
