"""All that the log says of a batch: each answer as its question has it, files as they lie, rows counted by a plain loop."""

from __future__ import annotations

import csv
import json
from dataclasses import fields

import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.batch_exhibit_record import FileRead, Refused
from pipelines.answers.batch_exhibit_text import compared_table
from pipelines.answers.printed import csv_of, text_of
from pipelines.errors import SettingError, WarehouseError
from pipelines.facts.log_rows import batch_jobs, log_files
from pipelines.facts.read import steady
from pipelines.settings import Settings
from pipelines.vocabulary import Because
from tests.answers.logs import EXACT
from tests.answers.made_batches import Bench
from tests.answers.test_contract import keys
from tests.pack.packs import BATCH, make_log


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    return make_log(tmp_path_factory.mktemp("exhibit"))


@pytest.fixture(scope="module")
def answer(log):
    return log.ask()


def test_it_holds_the_keys_of_the_page_and_no_others(answer):
    told = answer.to_dict()
    json.dumps(told, allow_nan=False)
    assert set(told) == keys("`batch-exhibit") - {one.name for one in fields(FileRead)}
    assert {key for one in told["files"] for key in one} == {one.name for one in fields(FileRead)}


def test_each_answer_is_that_of_its_own_question(log, answer):
    with warehouse.reading(log.warehouse) as connection:
        for name, one in answer.answers.items():
            alone = ask(f"batch-{name}", connection, case={} if name == "verdict" else {"batch": BATCH})
            assert one.sentence == alone.sentence
            assert set(one.to_dict()) == set(alone.to_dict())
    row = next(one for one in answer.answers["verdict"].batches if one.batch == BATCH)
    assert (answer.sentence, answer.because) == (row.sentence, row.because)


def test_the_table_of_batches_tells_their_own_ratios_alone(answer):
    assert {"ratio", "ratio_low", "p_adjusted", "rank_low"} < set(compared_table(answer))
    assert not [name for name in compared_table(answer) if "shrunk" in name]


def raw_rows(log) -> tuple[list[str], list[list[str]]]:
    """Return the heading and the rows of the job file, by a plain reader; row n stands on line n + 2."""
    with (log.exports[0] / "jobs.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    return head, rows


def test_each_row_stands_on_its_line_of_its_file(log, answer):
    head, rows = raw_rows(log)
    assert set(answer.rows["file"]) == {"jobs.csv"}
    for one in answer.rows.to_dict("records"):
        line = dict(zip(head, rows[one["line"] - 2], strict=True))
        for name in ("job_id", "unit_id", "stick", "action", "part_batch_fitted", "technician"):
            assert (one[name] or "") == line[name]
        assert str(one["received_on"]) == line["received_on"]


def test_the_rows_are_those_of_its_modules_from_fitting_to_replacing(log):
    """A plain loop over the raw rows, stick by stick, for every batch; what came in before a fitting was closed may stand too."""
    head, rows = raw_rows(log)
    jobs = [dict(zip(head, one, strict=True)) for one in rows[:-1]]  # the last was not understood
    found, wanted, more = 0, 0, 0
    with warehouse.reading(log.warehouse) as connection:
        histories = steady(connection, Settings())
        for batch in sorted({one["part_batch_fitted"] for one in jobs} - {""}):
            told = batch_jobs(histories, batch, has_free_text=False)
            of_it = set(told.loc[told["hold"].isin(["fitted", "contradicted"]), "job_id"])
            due = set()
            for fitted in (one for one in jobs if one["part_batch_fitted"] == batch):
                own = [one for one in jobs if (one["unit_id"], one["stick"]) == (fitted["unit_id"], fitted["stick"])]
                began = max(fitted["received_on"], fitted["closed_on"], fitted["returned_to_service_on"])
                later = [one for one in own if "replace" in one["action"] and one["received_on"] > fitted["received_on"]]
                ended = min((one["received_on"] for one in later), default="9")
                due |= {fitted["job_id"]} | {one["job_id"] for one in own if began < one["received_on"] <= ended}
            found, wanted, more = found + len(of_it & due), wanted + len(due), more + len(of_it - due)
    assert wanted > 200
    assert found == wanted
    assert more <= 0.02 * wanted


def test_notes_are_left_out_unless_asked_for(log, answer):
    assert "note" not in answer.rows
    assert any("left out of rows.csv" in one for one in answer.warnings)
    with_notes = log.ask(notes="yes")
    assert "note" in with_notes.rows
    assert any("may name people" in one and "are in rows.csv" in one for one in with_notes.warnings)


def test_a_date_far_ahead_gives_a_day_on_which_it_is_refused_again(answer):
    assert {one.load: one.as_of for one in answer.files} == {1: None, 2: "2071-05-02"}
    assert [one.set_aside for one in answer.files if one.file == "own.csv"] == [1]


def test_a_question_that_cannot_be_answered_says_so_and_the_others_stand(tmp_path):
    log = Bench().fit("B-1", good=6, failed=(20, 40, 60)).fit("B-2", good=9, failed=(30,)).find("B-9", 3).log(tmp_path)
    with warehouse.reading(log.path) as connection:
        answer = ask("batch-exhibit", connection, settings=EXACT, case={"batch": "B-9"})
    assert answer.because is Because.NO_DENOMINATOR
    assert isinstance(answer.answers["alarm"], Refused)
    assert any(one.startswith("How soon it could be known: not told.") for one in answer.warnings)
    assert "B-9" in text_of(answer)
    assert csv_of(answer).startswith("hold,")
    told = answer.to_dict()["answers"]
    assert set(told["alarm"]) == {"question", "what", "remedy"}
    assert told["containment"]["case"]["batch"] == "B-9"


def test_a_batch_must_be_named_and_known(log):
    with warehouse.reading(log.warehouse) as connection:
        with pytest.raises(SettingError, match="Nothing says which batch"):
            ask("batch-exhibit", connection)
        with pytest.raises(SettingError, match="no batch 'QQ'"):
            ask("batch-exhibit", connection, case={"batch": "QQ"})
        with pytest.raises(SettingError, match="no answer to notes"):
            ask("batch-exhibit", connection, case={"batch": BATCH, "notes": "perhaps"})


def test_a_warehouse_that_never_kept_mappings_is_refused():
    import duckdb

    with duckdb.connect() as connection, pytest.raises(WarehouseError, match="does not keep how its files were read"):
        log_files(connection)
