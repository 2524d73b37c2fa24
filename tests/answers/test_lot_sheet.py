"""The lot sheet: it holds the numbers of the answer, runs nothing, fetches nothing, and shows text from outside as it is."""

import io
from html.parser import HTMLParser

import openpyxl
import pytest

from pipelines.answers.lot_sheet import sheet_html, sheet_workbook
from pipelines.answers.lot_tables import cost_table, driver_table, expected_table, split_table
from pipelines.wording.cautions import caution_words
from pipelines.wording.lots import bid_words
from tests.answers.lot_records import GIVEN, bid, lots_of, record

EVIL, FORMULA = "<script>alert(1)</script>", "=1+1"
#: What would make a browser fetch or run something.
ACTIVE = {"script", "link", "img", "iframe", "object", "embed", "form", "a", "base", "image", "use", "foreignobject"}


class Page(HTMLParser):
    """The tags, attributes and text of a page."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.tags, self.attributes, self.parts = set(), [], []
        self.feed(page.decode())

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.parts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.parts).split())


def flat(text: str) -> str:
    return " ".join(text.split())


def whole(**case: str):
    given = {
        "price": "150",
        "tested": "Nolm:6",
        "good": "Nolm:2",
        "stated_good_share": "0.9",
        "seller": "Alder",
    }
    return bid(is_brief=False, settings=GIVEN | {"bench_hours_free": 10.0}, **(given | case))


def test_the_page_holds_the_answer_and_every_table():
    answer = whole()
    text = Page(sheet_html(answer)).text
    assert flat(answer.sentence) in text
    assert caution_words() in text
    assert flat(bid_words(answer.bid.highest_bid, "EUR")) in text
    for frame in (split_table(answer), expected_table(answer), cost_table(answer), driver_table(answer).head(8)):
        assert len(frame)
        for cell in [*frame.columns, *frame.to_numpy().ravel()]:
            assert flat(cell) in text
    for said in ("seller: Alder", "price asked, before fees: 150 EUR", "tested: 6, of those working 2", 
                 "log: 2025-01-01 to 2025-12-31", "stickfleet 0.1.0", "6 past lots"):  # fmt: skip
        assert said in text


def test_the_page_runs_nothing_and_fetches_nothing():
    page = sheet_html(whole())
    read = Page(page)
    assert not read.tags & ACTIVE
    assert not [name for name, _ in read.attributes if name.startswith("on") or name in ("src", "href", "srcset", "style")]
    assert b"url(" not in page
    assert b"@import" not in page
    assert b"http" not in page


def test_the_page_of_a_lot_that_came_tells_of_the_units_that_came_and_of_no_bid():
    answer = whole(received="19")
    text = Page(sheet_html(answer)).text
    assert flat(answer.sentence) in text
    assert "came: 19 units" in text
    assert text.count("1 unit did not come") == 1
    assert "Nolm (19)" in split_table(answer)["family"].tolist()
    assert "Bid at most" not in text
    assert "Profit of the units that came at 150" in text.replace("\u00a0", " ")


def test_the_bars_of_the_picture_share_its_width_and_those_left_of_0_are_the_loss():
    answer = whole()
    read = Page(sheet_html(answer))
    kinds = [value for name, value in read.attributes if name == "class" and value in ("loss", "gain")]
    assert kinds == sorted(kinds, key=["loss", "gain"].index)
    assert {"loss", "gain"} == set(kinds)
    assert "loss 10 %" in read.text.replace("\u00a0", " ")


def test_text_from_log_and_listing_is_shown_as_it_is():
    hostile = lots_of((EVIL, "untested", FORMULA, 9, 3, 2, 1), (EVIL, "untested", "Birch", 7, 3, 4, 1))
    answer = bid(record(hostile), mix=f"{EVIL}:20", seller=FORMULA, is_brief=False)
    page = sheet_html(answer)
    assert b"<script" not in page
    assert f"Lot: 20 {EVIL}" in Page(page).text
    book = openpyxl.load_workbook(io.BytesIO(sheet_workbook(answer)))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert not any(cell.data_type == "f" for cell in cells)
    assert any(cell.value == f"'{FORMULA}" for cell in cells)


def test_the_workbook_holds_the_numbers_of_the_answer():
    answer = whole()
    book = openpyxl.load_workbook(io.BytesIO(sheet_workbook(answer)))
    assert book.sheetnames == ["bid", "split", "costs", "drivers", "asked"]
    rows = {row[0]: row for row in book["bid"].iter_rows(min_row=2, values_only=True) if row[1] is None}
    assert rows["highest bid"][3] == pytest.approx(answer.bid.highest_bid)
    assert rows["bench hours"][3:6] == pytest.approx(
        (answer.expected.bench_h.estimate, answer.expected.bench_h.low, answer.expected.bench_h.high)
    )
    asked = dict(book["asked"].iter_rows(min_row=2, values_only=True))
    assert (asked["lot"], asked["price asked"], asked["tested"]) == ("20 Nolm", 150, 6)
    assert asked["setting bench_hours_free"] == 10


def test_a_sheet_without_a_bid_says_what_is_missing():
    answer = bid(settings={}, is_brief=False)
    text = Page(sheet_html(answer)).text
    assert flat(answer.sentence) in text
    assert "To be given: Lost to other faults" in text
    assert "<svg" not in sheet_html(answer).decode()
    book = openpyxl.load_workbook(io.BytesIO(sheet_workbook(answer)))
    assert "highest bid" not in {row[0] for sheet in book for row in sheet.iter_rows(values_only=True)}


def test_a_sheet_of_a_lot_that_nobody_should_buy_and_one_that_cannot_lose():
    for changed in ({"resale_price": 0.0, "harvest_value": 0.0}, {"inbound_freight": 0.0, "resale_price": 1e6}):
        answer = bid(settings=GIVEN | changed, is_brief=False)
        assert flat(answer.sentence) in Page(sheet_html(answer)).text


def test_every_setting_used_has_a_name_and_says_where_it_is_from():
    frame = cost_table(bid(settings=GIVEN))
    assert set(frame["where from"]) == {"given by you"}
    assert len(frame) == len(GIVEN)
    assert (
        dict(zip(frame["what"], frame["number"], strict=True))["Selling fee"].replace("\u00a0", " ") == "10 % of the resale price"
    )
