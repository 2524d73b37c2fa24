"""Text files: encodings, delimiters, quotes, widths, and every physical line accounted for."""

import gzip

import pytest

from pipelines.errors import InputError
from tests.logs.bench import accounted, csv_of, job

TWO = csv_of(job(family="Größe"), job(family="Nolm"))


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        (TWO.encode(), "utf-8"), (TWO.encode("utf-8-sig"), "utf-8"), (TWO.encode("cp1252"), "windows-1252"),
        (TWO.encode("utf-16"), "utf-16"), (TWO.encode("utf-16-le"), "utf-16-le"), (TWO.encode("utf-16-be"), "utf-16-be"),
        (b"\xfe\xff" + TWO.encode("utf-16-be"), "utf-16"),
    ],
)  # fmt: skip
def test_letters_are_read_in_any_usual_encoding(bench, content, encoding):
    sheet = bench.load_text(content)
    assert (sheet.encoding, sheet.loaded) == (encoding, 2)
    assert bench.column("family") == ["Größe", "Nolm"]


def test_another_encoding_may_be_named(bench):
    bench.load_text(csv_of(job(family="Łódź")).encode("cp1250"), mapping='[file]\nencoding = "cp1250"')
    assert bench.column("family") == ["Łódź"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_found(bench, delimiter):
    assert bench.load_text(csv_of(job(), job(), delimiter=delimiter)).loaded == 2


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_any_line_ending_counts_as_one_line(bench, ending):
    sheet = bench.load_text(csv_of(job(), job()).replace("\n", ending))
    assert (sheet.lines_read, sheet.loaded, accounted(sheet)) == (3, 2, True)


def test_mixed_line_endings_do_not_spoil_the_file(bench):
    header, one, two = csv_of(job(), job()).splitlines()
    sheet = bench.load_text(f"{header}\r\n{one}\n{two}\r\n")
    assert (sheet.lines_read, sheet.loaded) == (3, 2)


def test_a_row_of_another_width_is_set_aside_and_never_shifted(bench):
    header, one, two, three = csv_of(job(), job(), job()).splitlines()
    sheet = bench.load_text("\n".join([header, one.replace(",", ",,", 1), two, three.rsplit(",", 1)[0]]) + "\n")
    assert (sheet.loaded, sheet.set_aside, accounted(sheet)) == (1, 2, True)
    assert bench.set_aside() == [
        (2, "", "has 8 fields, the heading row has 7"), (4, "", "has 6 fields, the heading row has 7"),
    ]  # fmt: skip


def test_empty_fields_behind_every_row_do_no_harm(bench):
    header, one, two = csv_of(job(), job()).splitlines()
    assert bench.load_text(f"{header}\n{one},,\n{two},,\n").loaded == 2


def test_a_shifted_row_is_seen_even_where_rows_end_in_empty_fields(bench):
    header, one, two, three = csv_of(job(), job(), job()).splitlines()
    sheet = bench.load_text(f"{header}\n{one},\n{two.replace(',', ',,', 1)}\n{three},\n")
    assert (sheet.loaded, sheet.set_aside, accounted(sheet)) == (2, 1, True)
    assert bench.set_aside()[0][0] == 3


def test_title_units_total_and_repeated_heading_lines_are_no_data(bench):
    header, one, two = csv_of(job(bench_minutes="5"), job(bench_minutes="7")).splitlines()
    lines = ["Repair log,,,,,,,", "", header, ",,,,yyyy-mm-dd,,,min", one, header, "", two, "Total,,,,,,,12", ",,,,,,,"]
    sheet = bench.load_text("\n".join(lines) + "\n")
    assert (sheet.lines_read, sheet.loaded, sheet.set_aside, sheet.blank, sheet.not_data) == (10, 2, 0, 2, 6)
    assert bench.column("line") == [5, 8]


def test_a_short_total_line_is_no_data(bench):
    sheet = bench.load_text(csv_of(job()) + "Grand total\n\n")
    assert (sheet.loaded, sheet.not_data, sheet.blank, accounted(sheet)) == (1, 2, 1, True)


def test_a_cell_may_hold_the_delimiter_and_go_on_over_lines(bench):
    text = csv_of(job(note='"one, two"'), job(note='"a ""b""\nc"'), job())
    sheet = bench.load_text(text)
    assert (sheet.lines_read, sheet.loaded, sheet.not_data, accounted(sheet)) == (5, 3, 2, True)
    assert bench.column("note") == ["one, two", 'a "b"\nc', None]
    assert bench.column("line") == [2, 3, 5]


def test_an_unclosed_quote_costs_its_own_line_only(bench):
    text = csv_of(job(note='"open'), *[job(note="fine")] * 3)
    sheet = bench.load_text(text)
    assert (sheet.loaded, sheet.set_aside, accounted(sheet)) == (3, 1, True)
    assert bench.set_aside() == [(2, "", 'a quotation mark (") opens in this line and never closes')]


def test_two_unclosed_quotes_do_not_swallow_the_rows_between(bench):
    sheet = bench.load_text(csv_of(job(note='"open'), job(), job(note='"open too'), job()))
    assert (sheet.loaded, sheet.set_aside, accounted(sheet)) == (2, 2, True)


def test_an_inch_mark_within_a_cell_is_a_letter(bench):
    sheet = bench.load_text(csv_of(job(note='5" stick'), job(note='6" and 7" sticks')))
    assert sheet.loaded == 2
    assert bench.column("note") == ['5" stick', '6" and 7" sticks']


def test_quotes_that_even_out_but_hide_a_line_are_seen(bench):
    sheet = bench.load_text(csv_of(job(family='5" x', note='"open'), job(note='closed"'), job()))
    assert accounted(sheet)
    assert sheet.loaded + sheet.set_aside == 3


def test_packed_text_is_unpacked(bench):
    assert bench.load_text(gzip.compress(TWO.encode()), name="jobs.csv.gz").loaded == 2


def test_decimal_commas_are_read_by_what_the_file_shows(bench):
    text = csv_of(*(job(usage_hours=hours) for hours in ("7,5", "1.250", "1.250,5", "12")), delimiter=";")
    assert bench.load_text(text).decimal_mark == ","
    assert bench.column("usage_hours") == [7.5, 1250, 1250.5, 12]


def test_thousands_commas_are_read_by_what_the_file_shows(bench):
    bench.load_text(csv_of(*(job(usage_hours=hours) for hours in ('"1,250"', '"1,250.5"', "7.5"))))
    assert bench.column("usage_hours") == [1250, 1250.5, 7.5]


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "is empty"), (b"\xef\xbb\xbf\r\n \n", "is empty"), (b"unit_id,stick\n\x00\x01\x02,L\n", "a zero byte in line 2"),
        (bytes(range(1, 9)) * 40, "is not a text file"), (b"<html><table></table>", "is a web page"),
        (b"%PDF-1.7 x", "is a PDF"), (b"PK\x03\x04 no zip", "is a damaged workbook"), (b"\x1f\x8b\x08 no gzip", "damaged .gz"),
        (b"PAR1 no parquet PAR1", "damaged Parquet"), (b"dear diary\ntoday it rained\n", "holds no table"),
        (b"unit_id,colour\nU1,red\n", "has no column for"),
        (TWO.encode() + "ö".encode() * 30 + b"\xff\n", "is UTF-8 with damaged letters, first in line 4"),
        (b"unit_id,stick\nU1,\x81\x8d\x8f\x90\n", "cannot be read as windows-1252"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_refused_and_named(bench, content, what):
    bench.write("good.csv", csv_of(job()))
    bench.write("jobs.csv", content)
    with pytest.raises(InputError) as raised:
        bench.load()
    assert raised.value.what.startswith("jobs.csv")
    assert what in raised.value.what
    assert raised.value.remedy
    assert not (bench.warehouse / "current").exists()


def test_a_packed_file_that_unpacks_to_too_much_is_refused(bench, monkeypatch):
    monkeypatch.setattr("pipelines.logs.opening.MOST_UNPACKED", 1000)
    bench.write("jobs.csv.gz", gzip.compress(b"x" * 2000))
    with pytest.raises(InputError, match="unpacks to over"):
        bench.load()
