"""From a listing to a bid, from a test to a new bid, and to the sheet, in a real browser; the sheet is read back."""

import io
import re
import urllib.parse

import openpyxl

from pipelines.answers import ask
from pipelines.answers.lot_sheet import sheet_html
from pipelines.settings import Settings
from pipelines.warehouse import reading
from pipelines.wording.lots import bid_words
from tests.browser.acts import downloaded, fill, pick

LOT = {"mix": "Dunmarl:30,Elspret:12", "condition": "untested", "price": "200.0"}
GIVEN = {"other_fault_share": 0.06, "return_cost": 9.0}


def told(server, **case: str):
    with reading(server.warehouse) as connection:
        return ask("lot-bid", connection, case=LOT | case, settings=Settings(**GIVEN))


def test_from_listing_to_bid_to_test_to_new_bid_to_sheet(visit, server):
    one = visit()
    one.open()
    one.go("What to bid for a lot")
    assert "the highest bid then stands here" in one.lead
    pick(one, "family_1", "Dunmarl")
    fill(one, "units_1", 30)
    pick(one, "family_2", "Elspret")
    fill(one, "units_2", 12)
    pick(one, "condition", "untested")
    fill(one, "price", 200)
    assert one.lead.startswith("Before a bid can be told, give: ")
    fill(one, "other_fault_pct", 6)
    fill(one, "return_cost", 9)
    before = told(server)
    assert one.lead == f"Bid at most {bid_words(before.bid.highest_bid, before.currency)}."

    fill(one, "tested_1", 10)
    fill(one, "good_1", 9)
    after = told(server, tested="Dunmarl:10", good="Dunmarl:9")
    assert one.lead == f"Bid at most {bid_words(after.bid.highest_bid, before.currency)}."
    assert after.bid.highest_bid > before.bid.highest_bid
    main = one.page.get_by_test_id("stMain").inner_text()
    assert f"Highest bid {bid_words(before.bid.highest_bid, before.currency)}" in main
    assert "With 9 of 10 working" in main

    assert downloaded(one, "html_lot") == sheet_html(after)
    book = openpyxl.load_workbook(io.BytesIO(downloaded(one, "xlsx_lot")))
    first = next(book["bid"].iter_rows(min_row=2, values_only=True))
    assert (first[0], round(first[3], 6)) == ("highest bid", round(after.bid.highest_bid, 6))

    another = visit()  # what was typed stands in the address
    another.open(f"buying?{urllib.parse.urlsplit(one.page.url).query}")
    assert another.lead == one.lead


def test_what_drives_the_bid_opens_and_leaves_the_bid_standing(visit):
    one = visit()
    one.open("buying?family_1=Dunmarl&units_1=30&condition=untested&other_fault_pct=6&return_cost=9")
    before, figures = one.lead, one.page.locator(".js-plotly-plot")
    assert figures.count() == 1
    one.does(lambda: one.page.locator(".st-key-drivers summary").click())
    assert figures.count() == 2
    assert one.lead == before


def test_costs_typed_go_along_to_another_screen_and_back(visit):
    one = visit()
    one.open("buying?family_1=Dunmarl&units_1=30&other_fault_pct=6&return_cost=9")
    before = one.lead
    one.go("Cleaning success")
    one.go("What to bid for a lot")
    assert one.lead == before


def test_the_sheet_prints_on_one_page_and_asks_no_one(server, browser):
    answer = told(server, tested="Dunmarl:10", good="Dunmarl:9", received="40", stated_good_share="0.9", seller="Seller Birch")
    page, asked = browser.new_page(), []
    page.on("request", lambda one: asked.append(one.url))
    page.set_content(sheet_html(answer).decode())
    pdf = page.pdf(prefer_css_page_size=True)
    page.close()
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1
    assert asked == []
