"""Which table a sheet holds and which heading is which column."""

import pytest

from pipelines.contract import columns_of, contract
from pipelines.errors import InputError
from pipelines.logs import headings
from pipelines.logs.headings import Ambiguous, Guess, Recognised, recognise
from pipelines.logs.mapping import FileMapping
from pipelines.logs.spelling import fold

JOBS = ["Serial", "Side", "Model", "Date in", "Work done", "Result"]


def table_of(*rows: list[str], mapping: FileMapping = FileMapping()) -> Recognised | Ambiguous | Guess | None:  # noqa: B008
    return recognise(rows, mapping)


def test_every_table_is_known_by_its_own_column_names():
    for table in {column.table for column in contract()}:
        found = table_of([column.name for column in columns_of(table)])
        assert (found.table, list(found.columns.values())) == (table, [column.name for column in columns_of(table)])


def test_every_table_is_known_by_its_required_columns_alone():
    for table in {column.table for column in contract()}:
        assert table_of([column.name for column in columns_of(table) if column.is_required]).table == table


def test_no_heading_means_two_columns_of_one_table():
    meant: dict[tuple[str, str], set[str]] = {}
    for column in contract():
        for word in (column.name, *column.also_called):
            meant.setdefault((column.table, fold(word)), set()).add(column.name)
    assert {key: names for key, names in meant.items() if len(names) > 1} == {}


def test_shop_words_are_headings():
    found = table_of([*JOBS, "Play hours (h)", "REST-OFFSET before %", "Colour"])
    assert found.understood == {
        "Serial": "unit_id", "Side": "stick", "Model": "family", "Date in": "received_on", "Work done": "action",
        "Result": "outcome", "Play hours (h)": "usage_hours", "REST-OFFSET before %": "af_rest_offset_pct",
    }  # fmt: skip
    assert found.not_understood == ("Colour",)


def test_titles_above_the_headings_are_passed():
    assert table_of(["Repair log", ""], [], JOBS, ["1", "2", "3", "4", "5", "6"]).row == 2


def test_of_two_columns_of_one_reading_the_first_is_as_found():
    found = table_of([*JOBS, "Offset", "Offset", "Jitter"])
    assert (found.columns[6], found.columns[7]) == ("af_rest_offset_pct", "al_rest_offset_pct")
    assert "Jitter" in found.not_understood


def test_a_merged_heading_above_tells_as_found_from_as_left():
    found = table_of(["", "", "", "", "", "", "As found", "", "As left", ""], [*JOBS, "Offset", "Jitter", "Offset", "Jitter"])
    assert list(found.columns.values())[6:] == [
        "af_rest_offset_pct", "af_jitter_pct", "al_rest_offset_pct", "al_jitter_pct",
    ]  # fmt: skip


def test_the_columns_own_name_beats_another_word_for_it():
    found = table_of(["unit_id", *JOBS])
    assert found.columns[0] == "unit_id"
    assert found.not_understood == ("Serial",)


def test_two_words_for_one_column_are_refused_with_the_line_to_write():
    found = table_of([*JOBS, "Status"])
    error = headings.refused("log.csv", found)
    assert "log.csv has two headings for outcome: 'Result' and 'Status'." in error.what
    assert '"Status" = "ignore"' in error.remedy


def test_the_mapping_names_and_ignores_headings():
    mapping = FileMapping(columns={"gerat": "unit_id", "status": "ignore"})
    found = table_of(["Gerät", *JOBS[1:], "Status"], mapping=mapping)
    assert found.understood["Gerät"] == "unit_id"
    assert found.not_understood == ("Status",)


def test_a_column_that_the_mapping_fixes_need_not_be_there():
    assert table_of(["Serial", *JOBS[2:]], mapping=FileMapping(fixed={"stick": "S"})).table == "jobs"


def test_a_missing_column_is_named_with_the_nearest_heading():
    found = table_of(["Serial", "Side", "Model", "Dat inn", "Work done", "Result"])
    error = headings.refused("log.csv", found)
    assert error.what == "log.csv looks like the table jobs, but has no column for received_on."
    assert '"Dat inn" = "received_on"' in error.remedy
    assert '[files."log.csv".file] skip = true' in error.remedy  # as a stray list of phone numbers in the folder would need


def test_no_heading_is_proposed_for_two_columns():
    found = table_of(["Serial", "Model", "Date in", "Work done", "Left result"])
    proposed = [line.split('"')[1] for line in headings.refused("log.csv", found).remedy.split("; ")[:2]]
    assert sorted(proposed) == ["Left result", "your heading"]


def test_left_and_right_in_one_row_are_asked_to_be_two_rows():
    found = table_of(["Serial", "Model", "Date in", "Left work", "Left result", "Right work", "Right result"])
    assert headings.refused("log.csv", found).remedy.startswith("One row must be one stick")


@pytest.mark.parametrize("rows", [[[]], [["", ""]], [["a", "b"], ["1", "2"]], [["; DROP TABLE job;--", "x"]]])
def test_a_table_that_no_one_knows_is_refused(rows):
    found = table_of(*rows)
    assert not isinstance(found, Recognised)
    assert isinstance(headings.refused("x.csv", found), InputError)


def test_ten_thousand_headings_are_no_trouble():
    found = table_of([*JOBS, *(f"extra {number}" for number in range(10_000))])
    assert found.table == "jobs"
    assert len(found.not_understood) == 10_000
