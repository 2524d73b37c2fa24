"""Which rows are loaded, which set aside, and which cells are left blank."""

import pytest

from pipelines.errors import InputError, SettingError
from tests.logs.bench import accounted, csv_of, job

UNITS = "unit_id,family,in_service_on,out_of_service_on,new_or_used\n"


@pytest.mark.parametrize(
    ("said", "column", "reason"),
    [
        ({"unit_id": ""}, "unit_id", "unit_id is blank"), ({"action": "-"}, "action", "action is blank"),
        ({"unit_id": "1.23457E+17"}, "unit_id", "'1.23457E+17' is a long number"),
        ({"stick": "middle"}, "stick", "'middle' is not a known word for stick"),
        ({"outcome": "maybe"}, "outcome", "'maybe' is not a known word for outcome"),
        ({"received_on": "2026-02-30"}, "received_on", "there is no date '2026-02-30'"),
        ({"received_on": "2027-01-01"}, "received_on", "2027-01-01 is in the future"),
        ({"finding": "dunno"}, "finding", "'dunno' is not a known word for finding"),
        ({"visit_reason": "whim"}, "visit_reason", "'whim' is not a known word"),
        ({"life_known_from": "birth"}, "life_known_from", "'birth' is not a known word"),
        ({"warranty_days": "ninety"}, "warranty_days", "'ninety' is not a number"),
        ({"closed_on": "2026-01-04"}, "closed_on", "closed_on 2026-01-04 is before received_on 2026-01-05"),
        ({"returned_to_service_on": "2025-12-31"}, "returned_to_service_on", "returned_to_service_on 2025-12-31 is before"),
        ({"in_service_since": "long ago"}, "in_service_since", "'long ago' is not a date"),
        ({"outcome": "", "closed_on": "2026-01-06"}, "outcome", "outcome is blank"),
    ],
)  # fmt: skip
def test_a_row_is_set_aside_where_a_history_would_change(bench, said, column, reason):
    sheet = bench.load_text(csv_of(job(**said), job()))
    assert (sheet.loaded, sheet.set_aside, sheet.cells_blanked, accounted(sheet)) == (1, 1, 0, True)
    ((line, at_column, because),) = bench.set_aside()
    assert (line, at_column) == (2, column)
    assert because.startswith(reason)


@pytest.mark.parametrize(
    ("name", "said"),
    [("usage_hours", "many"), ("usage_hours", "-3"), ("af_rest_offset_pct", "140"), ("sensor_type", "magic"),
     ("failure_mechanism", "ghosts"), ("parts_cost", "inf"), ("clean_passes", "1.5")],
)  # fmt: skip
def test_another_cell_that_cannot_be_read_is_left_blank_and_listed(bench, name, said):
    sheet = bench.load_text(csv_of(job(**{name: said})))
    assert (sheet.loaded, sheet.set_aside, sheet.cells_blanked) == (1, 0, 1)
    assert bench.column(name) == [None]
    ((line, column, reason),) = bench.blanked()
    assert (line, column) == (2, name)
    assert said in reason


def test_every_finding_has_its_value_and_remedy(bench):
    bench.load_text(csv_of(job(outcome="maybe", usage_hours="x"), job(usage_hours="y")))
    assert bench.rows("SELECT line, value, is_row FROM set_aside ORDER BY line") == [(2, "maybe", True), (3, "y", False)]
    assert bench.rows("SELECT count(*) FROM set_aside WHERE remedy = '' OR remedy IS NULL") == [(0,)]


def test_a_job_without_outcome_is_open_while_it_is_not_closed(bench):
    bench.load_text(csv_of(job(outcome="", closed_on="")))
    assert bench.column("outcome") == ["open"]


def test_a_row_for_both_sticks_becomes_two_jobs_and_counts_one_line(bench):
    sheet = bench.load_text(csv_of(job(stick="both", bench_minutes="10", usage_hours="50"), job()))
    assert (sheet.loaded, accounted(sheet)) == (2, True)
    assert bench.rows("SELECT job_key, stick, bench_minutes, usage_hours FROM job ORDER BY job_key") == [
        ("J1#L", "L", 5.0, 50.0), ("J1#R", "R", 5.0, 50.0), ("J2", "L", None, None),
    ]  # fmt: skip


def test_ids_keep_their_zeros_and_their_eighteen_digits(bench):
    bench.load_text(csv_of(job(unit_id="0012"), job(unit_id="123456789012345678")))
    assert bench.column("unit_id") == ["0012", "123456789012345678"]


def test_batch_text_is_kept_as_it_stands(bench):
    bench.load_text(csv_of(job(part_batch_fitted="B12/B13")))
    assert bench.column("part_batch_fitted") == ["B12/B13"]


@pytest.mark.parametrize(
    ("name", "text", "column"),
    [
        ("units.csv", UNITS + "U1,Nolm,2026-01-05,2026-01-01,new\n", "out_of_service_on"),
        ("units.csv", UNITS + "U1,Nolm,2026-01-05,,fresh\n", "new_or_used"),
        ("sales.csv", "unit_id,sold_on,price,returned_on\nU1,2026-01-05,20,2026-01-01\n", "returned_on"),
        ("sales.csv", "unit_id,sold_on,price,return_reason\nU1,2026-01-05,20,moody\n", "return_reason"),
        ("seats.csv", "unit_id,station_id,from_at,to_at\nU1,S1,2026-01-05 10:00,2026-01-05 09:00\n", "to_at"),
        ("lots.csv", "lot_id,bought_on,family,units_bought,lot_price\nL1,2026-01-05,Nolm,0,100\n", "units_bought"),
        ("readings.csv", "unit_id,read_on,hours\nU1,2026-01-05,-4\n", "hours"),
    ],
)  # fmt: skip
def test_companion_tables_set_rows_aside_too(bench, name, text, column):
    sheet = bench.load_text(text, name=name)
    assert (sheet.loaded, sheet.set_aside) == (0, 1)
    assert bench.set_aside()[0][1] == column


def test_ambiguous_dates_are_refused_with_line_column_and_remedy(bench):
    with pytest.raises(InputError) as raised:
        bench.load_text(csv_of(job(received_on="2026-01-05"), job(received_on="03/04/2026")))
    assert raised.value.what == (
        "jobs.csv, line 3, column 'received_on': received_on '03/04/2026' may be 3 April or 4 March, "
        "and nothing in the file tells which."
    )
    assert "day_first" in raised.value.remedy


def test_the_mapping_settles_ambiguous_dates(bench):
    bench.load_text(csv_of(job(received_on="03/04/2026")), mapping="[file]\nday_first = false")
    assert str(bench.column("received_on")[0]) == "2026-03-04"


def test_another_date_column_of_the_file_settles_ambiguous_dates(bench):
    bench.load_text(csv_of(job(received_on="03/04/2026", closed_on="13/04/2026")))
    assert str(bench.column("received_on")[0]) == "2026-04-03"


def test_day_numbers_are_dates_where_the_whole_column_is_such(bench):
    bench.load_text(csv_of(job(received_on="46115"), job(received_on="46116")))
    assert [str(day) for day in bench.column("received_on")] == ["2026-04-03", "2026-04-04"]


def test_the_mapping_gives_words_scales_and_fixed_columns(bench):
    text = "Tag;Modell;Datum;Arbeit;Ergebnis;Versatz vorher\nU1;Nolm;2026-01-05;gewischt;gut;0,075\n"
    bench.load_text(
        text,
        mapping="""
        [columns]
        "Modell" = "family"
        "Datum" = "received_on"
        "Arbeit" = "action"
        "Ergebnis" = "outcome"
        "Versatz vorher" = "af_rest_offset_pct"
        [codes.action]
        "gewischt" = "clean_open"
        [codes.outcome]
        "gut" = "pass"
        [scale]
        af_rest_offset_pct = 100
        [fixed]
        stick = "single"
        site_id = "north"
    """,
    )
    assert bench.rows("SELECT unit_id, stick, action, outcome, af_rest_offset_pct, site_id FROM job") == [
        ("U1", "S", "clean_open", "pass", 7.5, "north")
    ]


def test_a_fixed_word_that_means_nothing_is_a_slip_in_the_mapping(bench):
    with pytest.raises(SettingError, match=r"\[fixed\] stick"):
        bench.load_text("unit_id,family,received_on,action,outcome\nU1,N,2026-01-05,scrap,pass\n",
                        mapping='[fixed]\nstick = "middle"')  # fmt: skip


def test_columns_not_understood_and_wanted_ones_are_told(bench):
    sheet = bench.load_text(csv_of(job(colour="red")))
    assert sheet.not_understood == ("colour",)
    assert "usage_hours" in sheet.missing_wanted
    assert bench.rows("SELECT header, table_name, column_name FROM loaded_column WHERE column_name = 'stick'") == [
        ("stick", "jobs", "stick")
    ]


def test_sticks_of_a_register_that_cannot_be_read_are_listed_and_left_blank(bench):
    head = "unit_id,family,sticks,in_service_on"
    bench.load_text(f'{head}\nU1,Nolm,"L, R",2026-01-05\nU2,Nolm,2,2026-01-05\nU3,Nolm,three,2026-01-05\n', name="units.csv")
    assert bench.column("sticks", "unit") == ["L+R", "L+R", None]
    assert bench.blanked() == [(4, "sticks", "'three' is not a known word for sticks")]
