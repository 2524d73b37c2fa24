"""One load as one transaction: the ledger adds up, the same again changes nothing, a correction replaces."""

import json
from pathlib import Path

import pytest

from pipelines import warehouse
from pipelines.errors import InputError, WarehouseError
from pipelines.load import check, ledger, load, set_aside
from pipelines.settings import Settings
from pipelines.wording.intake import ledger_text, report_text, set_aside_text
from tests.logs.bench import TODAY, Bench, accounted, csv_of, job


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def without_id(**said: str) -> dict[str, str]:
    return {name: text for name, text in job(**said).items() if name != "job_id"}


def test_the_same_file_twice_changes_nothing(bench):
    bench.load_text(csv_of(job(), job()))
    before = warehouse.stamp(bench.warehouse)
    report = bench.load()
    assert (report.is_new, report.sheets[0].is_new, accounted(report.sheets[0])) == (False, False, True)
    assert warehouse.stamp(bench.warehouse) == before
    assert "Everything was loaded before; nothing changed." in report_text(report)


def test_a_copy_under_another_name_is_the_same_file(bench):
    bench.write("a.csv", csv_of(job()))
    bench.write("b.csv", csv_of(job()))
    assert [sheet.is_new for sheet in bench.load().sheets] == [True, False]


def test_the_same_file_with_another_mapping_is_read_again(bench):
    text = csv_of(job(outcome="gut"))
    assert bench.load_text(text).set_aside == 1
    assert bench.load_text(text, mapping='[codes.outcome]\n"gut" = "pass"').loaded == 1
    assert bench.set_aside() == []


def test_a_corrected_export_replaces_and_says_so(bench):
    bench.load_text(csv_of(job(), job(), job()), name="first.csv")
    sheet = bench.load_text(csv_of(job(), job(outcome="fail"), job(job_id="J9")), name="second.csv")
    assert (sheet.loaded, sheet.repeated, sheet.replaced, accounted(sheet)) == (2, 1, 1, True)
    assert bench.rows("SELECT job_id, outcome FROM job ORDER BY job_id") == [
        ("J1", "pass"), ("J2", "fail"), ("J3", "pass"), ("J9", "pass"),
    ]  # fmt: skip
    ((key, content),) = bench.rows("SELECT job_key, content FROM replaced_job")
    assert (key, json.loads(content)["outcome"]) == ("J2", "pass")


def test_of_one_job_given_twice_in_a_file_the_later_line_counts(bench):
    sheet = bench.load_text(csv_of(job(job_id="A"), job(job_id="A", outcome="fail"), job(job_id="A", outcome="fail")))
    assert (sheet.loaded, sheet.set_aside, sheet.repeated, accounted(sheet)) == (1, 1, 1, True)
    assert bench.column("outcome") == ["fail"]
    assert bench.set_aside() == [(2, "", "given again on line 4 with other content; the later line counts")]


def test_a_job_number_shared_by_two_sticks_is_named_as_a_visit_number(bench):
    sheet = bench.load_text(csv_of(job(job_id="A"), job(job_id="A", stick="R")))
    assert sheet.set_aside == 1
    assert "for another unit or stick" in bench.set_aside()[0][2]
    assert '= "visit_id"' in sheet.problems[0].first.refusal.remedy


def test_jobs_without_an_id_are_known_by_unit_stick_day_and_order(bench):
    rows = [without_id(usage_hours=hours) for hours in ("30", "10", "20")]
    sheet = bench.load_text(csv_of(*rows, rows[0]))
    assert (sheet.loaded, sheet.repeated, accounted(sheet)) == (3, 1, True)
    assert bench.rows("SELECT job_key, usage_hours FROM job ORDER BY job_key") == [
        ("U1|L|2026-01-05|1", 10.0), ("U1|L|2026-01-05|2", 20.0), ("U1|L|2026-01-05|3", 30.0),
    ]  # fmt: skip


def test_the_order_of_lines_and_files_does_not_change_the_keys(bench, tmp_path):
    rows = [without_id(usage_hours=hours) for hours in ("30", "10", "20")]
    other = Bench(tmp_path / "other")
    bench.load_text(csv_of(*rows))
    other.load_text(csv_of(*reversed(rows)))
    query = "SELECT * EXCLUDE (file_id, line) FROM job ORDER BY job_key"
    assert bench.rows(query) == other.rows(query)


def test_overlapping_exports_without_ids_replace_what_was_open(bench):
    bench.write("week 2.csv", csv_of(without_id(outcome="open", closed_on=""), without_id(unit_id="U2", closed_on="2026-01-06")))
    bench.write(
        "week 10.csv",
        csv_of(without_id(outcome="pass", closed_on="2026-01-07"), without_id(unit_id="U2", closed_on="2026-01-06")),
    )
    first, second = bench.load().sheets
    assert (first.file, second.file) == ("week 2.csv", "week 10.csv")
    assert (second.loaded, second.repeated, second.replaced) == (1, 1, 1)
    assert bench.rows("SELECT unit_id, outcome FROM job ORDER BY unit_id") == [("U1", "pass"), ("U2", "pass")]


def test_a_row_for_both_sticks_may_be_corrected_by_one_for_each(bench):
    bench.load_text(csv_of(without_id(stick="B")), name="a.csv")
    sheet = bench.load_text(csv_of(without_id(stick="L", outcome="fail"), without_id(stick="R")), name="b.csv")
    assert (sheet.loaded, sheet.repeated, sheet.replaced) == (1, 1, 1)
    assert bench.rows("SELECT stick, outcome FROM job ORDER BY stick") == [("L", "fail"), ("R", "pass")]


@pytest.mark.parametrize("kept", [{"usage_hours": "10"}, {"usage_hours": "20"}, {"usage_hours": "20", "outcome": "fail"}])
def test_a_later_file_tells_all_jobs_of_a_stick_and_day_without_an_id(bench, kept):
    bench.load_text(csv_of(*(without_id(usage_hours=hours) for hours in ("10", "20")), without_id(unit_id="U2")), name="a.csv")
    bench.load_text(csv_of(without_id(**kept)), name="b.csv")
    left = bench.rows("SELECT usage_hours, outcome FROM job WHERE unit_id = 'U1'")
    assert left == [(float(kept["usage_hours"]), kept.get("outcome", "pass"))]
    assert len(bench.column("unit_id")) == 2
    assert len(bench.rows("SELECT * FROM replaced_job")) == (1 if kept["usage_hours"] == "10" else 2)


def test_an_export_that_now_has_ids_replaces_the_same_jobs_without(bench):
    bench.load_text(csv_of(without_id(), without_id(stick="R")), name="a.csv")
    sheet = bench.load_text(csv_of(job(job_id="A1"), job(job_id="A2", outcome="fail")), name="b.csv")
    assert (sheet.loaded, sheet.replaced, accounted(sheet)) == (2, 1, True)
    assert bench.rows("SELECT job_key, stick FROM job ORDER BY job_key") == [
        ("A1", "L"), ("A2", "L"), ("U1|R|2026-01-05|1", "R"),
    ]  # fmt: skip


def test_other_tables_are_corrected_by_their_keys(bench):
    bench.load_text("unit_id,read_on,hours\nU1,2026-01-05,10\nU1,2026-01-06,20\n", name="a.csv")
    sheet = bench.load_text("unit_id,read_on,hours\nU1,2026-01-05,11\nU1,2026-01-06,20\nU1,2026-01-07,30\n", name="b.csv")
    assert (sheet.loaded, sheet.repeated, sheet.replaced) == (2, 1, 1)
    assert sorted(bench.column("hours", "usage_reading")) == [11, 20, 30]


def test_a_blank_key_column_is_a_value_of_its_own(bench):
    text = "limit_set,measure,family,valid_from,pass_max\nA,jitter,,2026-01-01,3\nA,jitter,Nolm,2026-01-01,4\n"
    bench.load_text(text, name="a.csv")
    sheet = bench.load_text(text.replace(",3", ",2"), name="b.csv")
    assert (sheet.loaded, sheet.repeated, sheet.replaced) == (1, 1, 1)


ALIASES = "kind,raw,clean\nfamily,nolm pad,Nolm\nsite,N,north\nbatch,b-1,B1\n"


def test_aliases_count_whichever_file_came_first(bench, tmp_path):
    jobs = csv_of(job(family="Nolm Pad", site_id="N", part_batch_fitted="B-1"), job(family="Nolm"))
    query = "SELECT job_key, family, site_id, part_batch_fitted FROM job ORDER BY job_key"
    bench.load_text(jobs)
    bench.load_text(ALIASES, name="aliases.csv")
    other = Bench(tmp_path / "other")
    other.load_text(ALIASES, name="aliases.csv")
    other.load_text(jobs)
    assert bench.rows(query) == other.rows(query) == [("J1", "Nolm", "north", "B1"), ("J2", "Nolm", None, None)]


def test_an_alias_may_be_changed_later(bench):
    bench.load_text(csv_of(job(family="nolm pad")))
    bench.load_text(ALIASES, name="aliases.csv")
    bench.load_text(ALIASES.replace("Nolm", "Orbit"), name="aliases new.csv")
    assert bench.column("family") == ["Orbit"]


def test_an_aliased_row_that_comes_again_is_the_same_row(bench):
    bench.load_text(ALIASES, name="aliases.csv")
    bench.load_text(csv_of(job(family="nolm pad")), name="a.csv")
    sheet = bench.load_text(csv_of(job(family="nolm pad"), job()), name="b.csv")
    assert (sheet.loaded, sheet.repeated, sheet.replaced) == (1, 1, 0)


def test_aliases_of_outcome_and_action_are_read_before_jobs_of_the_same_load(bench):
    bench.write("a jobs.csv", csv_of(job(outcome="prima", action="putzen")))
    bench.write("z aliases.csv", "kind,raw,clean\noutcome,Prima,pass\naction,putzen,clean_flush+opened\noutcome,mau,nonsense\n")
    report = bench.load()
    assert [sheet.table for sheet in report.sheets] == ["aliases", "jobs"]
    assert bench.rows("SELECT outcome, action FROM job") == [("pass", "clean_flush+clean_open")]


def test_jobs_set_aside_for_a_word_are_read_again_once_it_has_an_alias(bench):
    bench.load_text(csv_of(job(outcome="prima")))
    bench.write("aliases.csv", "kind,raw,clean\noutcome,prima,pass\n")
    bench.load()
    assert bench.column("outcome") == ["pass"]
    assert bench.set_aside() == []


def test_word_aliases_and_jobs_loaded_again_change_nothing(bench):
    bench.write("jobs.csv", csv_of(job(outcome="prima")))
    bench.write("aliases.csv", "kind,raw,clean\noutcome,prima,pass\n")
    bench.load()
    assert not bench.load().is_new


def test_one_file_that_cannot_be_used_stops_the_whole_load(bench):
    bench.load_text(csv_of(job()))
    before = warehouse.stamp(bench.warehouse)
    bench.write("b.csv", csv_of(job(job_id="J9")))
    bench.write("c.csv", csv_of(job(received_on="03/04/2026")))
    with pytest.raises(InputError, match=r"c\.csv, line 2"):
        bench.load()
    assert warehouse.stamp(bench.warehouse) == before
    assert bench.column("job_id") == ["J1"]


def test_strict_loads_nothing_when_a_row_would_be_set_aside(bench):
    bench.write("jobs.csv", csv_of(job(), job(outcome="maybe"), job(stick="x")))
    with pytest.raises(InputError) as raised:
        bench.load(strict=True)
    assert raised.value.what == "jobs.csv, line 3, column outcome: 'maybe' is not a known word for outcome."
    assert "1 more lines would be set aside" in raised.value.remedy
    assert not warehouse.exists(bench.warehouse)


def test_strict_loads_clean_rows(bench):
    assert bench.load_text(csv_of(job()), strict=True).loaded == 1


def test_a_failure_of_the_histories_undoes_the_load(bench):
    def fail(connection, settings):
        raise InputError("The histories failed.", "Nothing.")

    path = bench.write("jobs.csv", csv_of(job()))
    with pytest.raises(InputError, match="The histories failed"):
        load([path], warehouse=bench.warehouse, settings=Settings(), today=TODAY, build=fail)
    assert not warehouse.exists(bench.warehouse)


def test_the_histories_are_built_over_the_loaded_rows(bench):
    path = bench.write("jobs.csv", csv_of(job()))
    load([path], warehouse=bench.warehouse, settings=Settings(), today=TODAY)
    assert bench.rows("SELECT count(*) FROM attempt") == [(1,)]


def test_folders_are_walked_and_other_files_passed_over(bench):
    bench.write("north/a.csv", csv_of(job()))
    bench.write("north/photo.jpg", b"\xff\xd8")
    bench.write("README.txt", "hello")
    bench.write(".hidden/b.csv", csv_of(job()))
    bench.write("~$c.xlsx", b"x")
    report = bench.load()
    assert [sheet.file for sheet in report.sheets] == ["north/a.csv"]
    assert {one.shown: one.why for one in report.skipped} == {
        "README.txt": "a text to read, not a table", "north/photo.jpg": "not a table file",
        "~$c.xlsx": "a spreadsheet's lock file",
    }  # fmt: skip


def test_the_mapping_may_say_to_leave_a_file_out(bench):
    bench.write("a.csv", csv_of(job()))
    bench.write("other.csv", "colour,size\nred,3\n")
    report = bench.load(mapping='[files."other*".file]\nskip = true')
    assert [sheet.file for sheet in report.sheets] == ["a.csv"]


@pytest.mark.parametrize("name", ["nothing", "nothing.csv"])
def test_a_path_that_is_not_there_is_refused(bench, name):
    with pytest.raises(InputError, match="There is no file or folder"):
        bench.load(bench.folder / name)


def test_a_folder_without_tables_is_refused(bench):
    bench.write("notes.md", "x")
    with pytest.raises(InputError, match="There is no table"):
        bench.load()


def test_progress_is_told_with_the_share_done(bench):
    told = []
    path = bench.write("jobs.csv", csv_of(job(), job()))
    load([path], warehouse=bench.warehouse, settings=Settings(), today=TODAY, build=lambda c, s: None,
         progress=lambda word, share: told.append((word, share)))  # fmt: skip
    assert ("Reading jobs.csv", 1.0) in told
    assert told[-1] == ("Building the histories", None)


def test_a_check_says_what_a_load_would_do_and_writes_nothing(bench):
    bench.write("a.csv", csv_of(job(), job(outcome="maybe", usage_hours="x", colour="red")))
    bench.write("b.csv", "unit_id,colour\nU1,red\n")
    bench.write("c.csv", csv_of(job(received_on="03/04/2026")))
    report = check([bench.folder / "exports"], warehouse=bench.warehouse)
    assert [(sheet.file, sheet.loaded, sheet.set_aside) for sheet in report.sheets] == [("a.csv", 1, 1)]
    assert [one.file for one in report.refused] == ["b.csv", "c.csv"]
    text = report_text(report)
    assert "'unit_id' as unit_id" in text
    assert "not understood, left out: 'colour'" in text
    assert "3 lines read = 1 would be loaded + 1 would be set aside" in text
    assert "CANNOT BE USED: b.csv looks like the table" in text
    assert not bench.warehouse.exists()


def test_a_check_against_a_warehouse_knows_what_is_there(bench):
    bench.load_text(csv_of(job(), job()), name="a.csv")
    bench.write("b.csv", csv_of(job(), job(outcome="fail"), job()))
    before = warehouse.stamp(bench.warehouse)
    report = check([bench.folder / "exports"], warehouse=bench.warehouse)
    assert [(sheet.is_new, sheet.loaded, sheet.repeated, sheet.replaced) for sheet in report.sheets] == [
        (False, 0, 2, 0), (True, 2, 1, 1),
    ]  # fmt: skip
    assert warehouse.stamp(bench.warehouse) == before


def test_the_ledger_and_what_was_set_aside_are_kept_and_worded(bench):
    path = bench.write("jobs.csv", csv_of(job(), job(outcome="maybe")))
    load([path], warehouse=bench.warehouse, settings=Settings(), today=TODAY)
    with warehouse.reading(bench.warehouse) as connection:
        book, aside = ledger(connection), set_aside(connection)
    assert book[["load_id", "file", "table_name", "lines_read", "loaded", "set_aside", "not_data"]].values.tolist() == [
        [1, "jobs.csv", "jobs", 3, 1, 1, 1]
    ]
    assert "jobs.csv: 3 lines = 1 loaded + 1 set aside" in ledger_text(book)
    assert "jobs.csv, line 3: 'maybe' is not a known word for outcome (set aside)." in set_aside_text(aside)
    assert ledger_text(book.head(0)) == "Nothing has been loaded yet."
    assert set_aside_text(aside.head(0)) == "No line was set aside."


def test_every_column_of_every_table_has_a_comment(bench):
    bench.load_text(csv_of(job()))
    assert (
        bench.rows(
            "SELECT table_name, column_name FROM duckdb_columns() "
            "WHERE comment IS NULL AND NOT internal AND table_name <> 'warehouse_format'"
        )
        == []
    )


def test_a_locked_warehouse_is_refused(bench):
    path = bench.write("jobs.csv", csv_of(job()))
    with warehouse.next_generation(bench.warehouse) as connection:
        connection.execute("CREATE TABLE x (y INTEGER)")
        with pytest.raises(WarehouseError, match="Another load"):
            bench.load(path)


def test_the_same_problem_is_said_once_with_its_count(bench):
    sheet = bench.load_text(csv_of(job(usage_hours="x"), *[job(outcome="gut")] * 3, job(outcome="mau")))
    assert [(one.first.line, one.count) for one in sheet.problems] == [(3, 3), (6, 1), (2, 1)]
    text = report_text(bench.load(bench.write("again.csv", csv_of(*[job(outcome="gut")] * 4))))
    assert "line 2 and 3 more: 'gut' is not a known word for outcome (set aside)." in text


EXPORTS = Path(__file__).parents[1] / "example_data" / "exports"


def test_the_example_is_read_and_every_line_of_it_accounted_for(tmp_path):
    example = Bench(tmp_path)
    report = load([EXPORTS], warehouse=example.warehouse, settings=Settings(), build=lambda connection, settings: None)
    assert all(accounted(sheet) for sheet in report.sheets)
    assert report.skipped == report.refused == ()
    assert report.total("set_aside") < 0.01 * report.total("lines_read")
    # the five spellings of each family have become one
    assert example.rows("SELECT count(DISTINCT family) FROM job") == example.rows("SELECT count(DISTINCT family) FROM unit")
    dialects = {(sheet.encoding, sheet.delimiter, sheet.decimal_mark, sheet.date_order) for sheet in report.sheets}
    assert ("windows-1252", "semicolon", ",", "day first") in dialects
