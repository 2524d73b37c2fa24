"""The command line: every command, its exit code and what it prints; crashes and readers beside a load."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import threading
import time
import tomllib
from pathlib import Path

import duckdb
import filelock
import pandas as pd
import pytest

from example_data.fleet import make
from example_data.plain import write_plain
from pipelines import cli, warehouse

ROOT = Path(__file__).resolve().parents[1]
QUESTIONS = ("cleaning-success", "time-to-failure", "recurrence")
HEAD = "job_id,unit_id,stick,family,received_on,visit_reason,finding,action,outcome\n"
ROW = "J{0},U{0},S,Nolm,2025-0{0}-01,fault_report,fault_confirmed,clean_flush,pass\n"


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """Return a folder with `exports` of a small fleet and the `warehouse` they were loaded into by the command line."""
    folder = tmp_path_factory.mktemp("house")
    (folder / "exports").mkdir()
    write_plain(make(600, 2, easy=True), folder / "exports")
    assert cli.main(["load", str(folder / "exports"), "--warehouse", str(folder / "warehouse")]) == 0
    return folder


@pytest.fixture
def say(capsys):
    """Return a function that runs a command and returns its exit code, what it printed and what it complained of."""

    def run(*words: object) -> tuple[int, str, str]:
        capsys.readouterr()
        try:
            code = cli.main([str(word) for word in words])
        except SystemExit as ended:
            code = ended.code
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return run


@pytest.fixture
def small(tmp_path):
    """Return a folder with one small export and no warehouse."""
    (tmp_path / "jobs.csv").write_text(HEAD + ROW.format(1) + ROW.format(2), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize("by", [(), ("--by", "family,usage_class")])
def test_an_answer_is_printed_as_sentences_and_a_table(say, house, question, by):
    code, out, err = say("answer", question, "--warehouse", house / "warehouse", *by)
    assert (code, err) == (0, "")
    assert out.startswith(f"{question} · log ")
    assert "interval" in out


@pytest.mark.parametrize("question", QUESTIONS)
def test_an_answer_is_printed_as_json(say, house, question):
    words = ("--format", "json", "--level", "0.9", "--clock", "days", "--set", "notice_days=0", "horizon=30")
    code, out, err = say("answer", question, "--warehouse", house / "warehouse", *words)
    answer = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert (code, err, answer["question"], answer["level"], answer["clock"]) == (0, "", question, 0.9, "days")
    assert (answer["settings"]["notice_days"], answer["settings"]["horizon"]) == (0, 30)
    assert [group["by"] for group in answer["groups"]] == [{}]


@pytest.mark.parametrize("question", QUESTIONS)
def test_an_answer_is_printed_as_csv(say, house, question):
    code, out, err = say("answer", question, "--warehouse", house / "warehouse", "--format", "csv", "--by", "family")
    frame = pd.read_csv(io.StringIO(out))
    assert (code, err, frame.columns[0]) == (0, "", "family")
    assert len(frame) > 5


BID = ("answer", "lot-bid", "--set", "other_fault_share=0.02", "return_cost=5", "--case", "mix=Ambrel:20", "condition=untested")


def test_a_bid_is_printed_as_sentences_as_json_and_as_csv(say, house):
    words = (*BID, "--warehouse", house / "warehouse")
    code, out, err = say(*words)
    assert (code, err, out.startswith("lot-bid · log ")) == (0, "", True)
    assert "No bid can be told: no unit of a past lot is finished" in out
    code, out, _ = say(*words, "--format", "json", "--brief")
    answer = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert (code, answer["case"]["mix"], answer["because"]) == (0, {"Ambrel": 20}, "no_past_lots")
    code, out, _ = say(*words, "--format", "csv")
    assert (code, pd.read_csv(io.StringIO(out)).columns[0]) == (0, "what")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("mix=Ambrell:20",), "Did you mean Ambrel?"), (("mix=Ambrel:20", "mix=Ambrel:5"), "has mix twice"),
        (("mix=Ambrel:20", "tested"), "says nothing of a case"), (("price=5",), "what is in the lot"),
    ],
)  # fmt: skip
def test_a_case_that_cannot_be_used_says_what_to_mend(say, house, words, said):
    code, out, err = say("answer", "lot-bid", "--warehouse", house / "warehouse", "--case", *words)
    assert (code, out) == (5, "")
    assert said in err


@pytest.mark.parametrize(("ending", "begins"), [("html", b"<!DOCTYPE html>"), ("xlsx", b"PK")])
def test_the_sheet_of_a_bid_is_written_beside_the_answer(say, house, tmp_path, ending, begins):
    code, out, err = say(*BID, "--warehouse", house / "warehouse", "--sheet", tmp_path / f"lot.{ending}")
    assert (code, err, out.startswith("lot-bid · log ")) == (0, "", True)
    assert (tmp_path / f"lot.{ending}").read_bytes().startswith(begins)


@pytest.mark.parametrize(
    ("words", "name", "said"),
    [
        (BID, "lot.pdf", "ends in .html or .xlsx"),
        (BID, "nowhere/lot.html", "cannot be written"),
        (("answer", "cleaning-success", "--brief"), "lot.html", "no sheet of cleaning-success"),
    ],
)
def test_a_sheet_that_cannot_be_written_says_what_to_mend(say, house, tmp_path, words, name, said):
    code, _, err = say(*words, "--warehouse", house / "warehouse", "--sheet", tmp_path / name)
    assert code == 5
    assert said in err
    assert not list(tmp_path.iterdir())


def test_the_same_column_in_two_filters_adds_a_value(say, house):
    words = ("--where", "family=Ambrel", "--where", "family=Corvath", "site=north", "--by", "family", "--format", "json")
    code, out, _ = say("answer", "recurrence", "--warehouse", house / "warehouse", *words)
    answer = json.loads(out)
    assert (code, answer["where"]) == (0, {"family": ["Ambrel", "Corvath"], "site": ["north"]})
    assert [group["by"]["family"] for group in answer["groups"]] == ["Ambrel", "Corvath"]


def test_a_load_says_what_it_did_and_the_same_again_changes_nothing(say, small):
    code, out, err = say("load", small / "jobs.csv", "--warehouse", small / "warehouse")
    assert (code, err) == (0, "")
    assert "2 loaded + 0 set aside" in out
    code, out, _ = say("load", small / "jobs.csv", "--warehouse", small / "warehouse")
    assert (code, "nothing changed" in out) == (0, True)


def test_a_check_says_what_would_be_done_and_writes_nothing(say, small):
    code, out, err = say("check", small / "jobs.csv", "--warehouse", small / "warehouse")
    assert (code, err, "2 would be loaded" in out) == (0, "", True)
    assert not (small / "warehouse").exists()


def test_the_ledger_lists_each_file_and_each_line_set_aside(say, small):
    (small / "jobs.csv").write_text(HEAD + ROW.format(1) + ROW.format(2).replace("2025-02-01", "2025-02-30"), encoding="utf-8")
    assert say("load", small / "jobs.csv", "--warehouse", small / "warehouse")[0] == 0
    code, out, _ = say("ledger", "--warehouse", small / "warehouse")
    assert (code, "= 1 loaded + 1 set aside" in out) == (0, True)
    code, out, _ = say("ledger", "--set-aside", "--warehouse", small / "warehouse")
    assert (code, "jobs.csv, line 3" in out) == (0, True)


def test_the_settings_are_listed_with_unit_and_help(say, house):
    code, out, _ = say("settings", "--warehouse", house / "warehouse", "--set", "horizon=30")
    assert (code, "horizon = 30.0  (default 90)" in out, "notice_days = 14  [days]" in out) == (0, True, True)
    code, out, _ = say("settings", "--format", "json", "--warehouse", house / "warehouse")
    assert (code, json.loads(out)["quiet_lag_days"]) == (0, 21)


def test_a_setting_out_of_range_is_told_its_range_in_plain_numbers(say, house):
    code, _, error = say("settings", "--warehouse", house / "warehouse", "--set", "part_cost=-1")
    assert code == 5
    assert "It goes from 0 to 1,000,000" in error


def test_settings_come_from_the_file_of_the_warehouse_or_the_one_named_and_words_win(say, small):
    (small / "warehouse").mkdir()
    (small / "warehouse" / "settings.toml").write_text("notice_days = 7\nhorizon = 60\n", encoding="utf-8")
    (small / "other.toml").write_text("notice_days = 3\n", encoding="utf-8")
    words = ("settings", "--format", "json", "--warehouse", small / "warehouse")
    assert json.loads(say(*words)[1])["notice_days"] == 7
    other = json.loads(say(*words, "--settings", small / "other.toml", "--set", "horizon=45")[1])
    assert (other["notice_days"], other["horizon"]) == (3, 45)


MISTYPED = [(), ("lode",), ("load",), ("answer",), ("answer", "weather"), ("answer", "recurrence", "--clock", "moons"),
            ("answer", "recurrence", "--level", "high"), ("settings", "--format", "xml")]  # fmt: skip


@pytest.mark.parametrize("words", MISTYPED)
def test_a_mistyped_command_ends_with_two(say, words):
    code, out, err = say(*words)
    assert (code, out, err.startswith("usage: stickfleet")) == (2, "", True)


UNUSABLE = {
    "empty.csv": b"", "junk.csv": bytes(range(256)) * 20, "poem.csv": b"Roses are red\nviolets are blue\n",
    "cut.parquet": b"PAR1 and then nothing", "cut.xlsx": b"PK\x03\x04 and then nothing",
    "wrong.csv": b"colour,weight\nred,3\nblue,4\n",
    "nobody.csv": b"job_id,stick,received_on,action,outcome\nJ1,L,2025-01-01,test_only,pass\n",
}  # fmt: skip


@pytest.mark.parametrize("name", [*UNUSABLE, "nowhere.csv"])
def test_an_input_that_cannot_be_used_ends_with_three_and_nothing_is_loaded(say, small, name):
    if name in UNUSABLE:
        (small / name).write_bytes(UNUSABLE[name])
    code, out, err = say("load", small / "jobs.csv", small / name, "--warehouse", small / "warehouse")
    assert (code, out) == (3, "")
    assert name in err
    assert err.startswith("stickfleet: ")
    assert len(err.splitlines()) == 2  # what, and the remedy
    assert not warehouse.exists(small / "warehouse")


def test_a_strict_load_refuses_the_first_line_it_would_set_aside(say, small):
    (small / "jobs.csv").write_text(HEAD + ROW.format(1) + ROW.format(2).replace("clean_flush", "polish"), encoding="utf-8")
    code, out, err = say("load", small / "jobs.csv", "--strict", "--warehouse", small / "warehouse")
    assert (code, out) == (3, "")
    assert all(word in err for word in ("jobs.csv", "line 3", "action", "polish"))
    assert not warehouse.exists(small / "warehouse")


@pytest.mark.parametrize("words", [("answer", "recurrence"), ("ledger",)])
def test_a_missing_warehouse_ends_with_four_and_says_to_load(say, tmp_path, words):
    code, out, err = say(*words, "--warehouse", tmp_path / "none")
    assert (code, out, "stickfleet load" in err) == (4, "", True)


def test_a_file_in_place_of_the_warehouse_folder_ends_with_four(say, small):
    for words in (("answer", "recurrence"), ("ledger",), ("load", small / "jobs.csv")):
        code, out, err = say(*words, "--warehouse", small / "jobs.csv")
        assert (code, out, "folder" in err) == (4, "", True)


def loaded(say, small: Path) -> Path:
    assert say("load", small / "jobs.csv", "--warehouse", small / "warehouse")[0] == 0
    return small / "warehouse"


def more(small: Path) -> Path:
    path = small / "more.csv"
    path.write_text(HEAD + ROW.format(3) + ROW.format(4), encoding="utf-8")
    return path


def test_a_warehouse_of_another_version_ends_with_four_and_names_both(say, small):
    path = loaded(say, small)
    with duckdb.connect(str(path / warehouse.stamp(path))) as connection:
        connection.execute("UPDATE warehouse_format SET version = 99")
    for words in (("answer", "recurrence"), ("load", more(small)), ("check", more(small))):
        code, _, err = say(*words, "--warehouse", path)
        assert (code, "format 99" in err, f"format {warehouse.FORMAT}" in err) == (4, True, True)


def test_a_database_that_is_no_warehouse_ends_with_four(say, small):
    path = loaded(say, small)
    with duckdb.connect(str(path / warehouse.stamp(path))) as connection:
        connection.execute("DROP TABLE warehouse_format")
    code, _, err = say("answer", "recurrence", "--warehouse", path)
    assert (code, "no stickfleet warehouse" in err) == (4, True)


@pytest.mark.parametrize("content", [b"", b"not a database at all" * 500])
def test_a_damaged_warehouse_ends_with_four(say, small, content):
    path = loaded(say, small)
    (path / warehouse.stamp(path)).write_bytes(content)
    for words in (("answer", "recurrence"), ("load", more(small))):
        code, out, err = say(*words, "--warehouse", path)
        assert (code, out, err.count("Traceback")) == (4, "", 0)


@pytest.mark.parametrize("pointer", ["", "fleet-000009.duckdb", "../jobs.csv", "\x00\n"])
def test_a_pointer_to_nothing_ends_with_four(say, small, pointer):
    path = loaded(say, small)
    (path / warehouse.POINTER).write_text(pointer, encoding="utf-8")
    code, out, _ = say("answer", "recurrence", "--warehouse", path)
    assert (code, out) == (4, "")


def test_a_load_beside_another_load_ends_with_four_and_readers_go_on(say, small):
    path = loaded(say, small)
    hold = "import filelock, sys\nwith filelock.FileLock(sys.argv[1]):\n    print('held', flush=True)\n    input()"
    holder = subprocess.Popen([sys.executable, "-c", hold, str(path / "load.lock")],
                              stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)  # fmt: skip
    with holder:
        assert holder.stdout.readline() == "held\n"
        code, out, err = say("load", more(small), "--warehouse", path)
        assert (code, out, "Another load" in err) == (4, "", True)
        assert say("ledger", "--warehouse", path)[0] == 0
        holder.communicate("done\n")
    assert say("load", more(small), "--warehouse", path)[0] == 0


WRONG = [
    ("answer", "recurrence", "--set", "colour=red"), ("answer", "recurrence", "--set", "horizon"),
    ("answer", "recurrence", "--set", "horizon=soon"), ("answer", "recurrence", "--set", "horizon=-1"),
    ("answer", "recurrence", "--set", "log_start=2025-02-30"), ("answer", "recurrence", "--by", "colour"),
    ("answer", "time-to-failure", "--by", "depth"), ("answer", "recurrence", "--where", "family"),
    ("answer", "recurrence", "--where", "colour=red"), ("answer", "recurrence", "--level", "95"),
    ("answer", "recurrence", "--settings", "nowhere.toml"), ("settings", "--set", "colour=red"),
]  # fmt: skip


@pytest.mark.parametrize("words", WRONG)
def test_a_wrong_setting_grouping_or_filter_ends_with_five_and_names_it(say, house, words):
    code, out, err = say(*words, "--warehouse", house / "warehouse")
    assert (code, out) == (5, "")
    assert words[-1].split("=")[0].split(".")[0] in err


@pytest.mark.parametrize("text", ["this is no TOML", '[codes.outcome]\n"gut" = "splendid"', '[colours]\n"red" = "blue"'])
def test_a_wrong_mapping_file_ends_with_five(say, small, text):
    (small / "mapping.toml").write_text(text, encoding="utf-8")
    for command in ("load", "check"):
        code, out, err = say(command, small / "jobs.csv", "--mapping", small / "mapping.toml", "--warehouse", small / "w")
        assert (code, out, "mapping.toml" in err) == (5, "", True)
    assert not warehouse.exists(small / "w")


def command(*words: object, **options) -> subprocess.Popen:
    """Start the command in a process of its own."""
    return subprocess.Popen([sys.executable, "-m", "pipelines", *map(str, words)], cwd=ROOT, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True, **options)  # fmt: skip


def test_the_command_runs_as_a_process_and_a_reader_that_stops_early_is_no_error(house):
    words = ("answer", "time-to-failure", "--by", "family", "--format", "json", "--warehouse", house / "warehouse")
    with command(*words) as process:
        assert process.stdout.readline() == "{\n"
        process.stdout.close()  # as `head` does
        complaint = process.stderr.read()
    assert (process.returncode, complaint) == (0, "")


def test_the_console_script_is_this_command():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["scripts"]["stickfleet"] == "pipelines.cli:main"


def test_a_crash_in_the_middle_of_a_load_leaves_the_old_data(say, small, monkeypatch):
    path = loaded(say, small)
    before, old = warehouse.stamp(path), say("ledger", "--warehouse", path)[1]

    def crash(connection, settings):
        raise MemoryError("no more")

    monkeypatch.setattr("pipelines.facts.build.build", crash)
    with pytest.raises(MemoryError):
        cli.main(["load", str(more(small)), "--warehouse", str(path)])
    monkeypatch.undo()
    assert (warehouse.stamp(path), say("ledger", "--warehouse", path)[1]) == (before, old)
    assert say("load", more(small), "--warehouse", path)[0] == 0
    assert not list(path.glob("*.tmp*"))


def test_a_load_that_is_killed_leaves_the_old_data_and_the_next_load_sweeps_up(say, small, house):
    path = loaded(say, small)
    before, old = warehouse.stamp(path), say("ledger", "--warehouse", path)[1]
    with command("load", house / "exports", "--warehouse", path) as process:
        wait_for(lambda: any(path.glob("*.tmp")) or process.poll() is not None)
        assert process.poll() is None
        process.kill()
    assert list(path.glob("*.tmp"))
    assert (warehouse.stamp(path), say("ledger", "--warehouse", path)[1]) == (before, old)
    assert say("load", more(small), "--warehouse", path)[0] == 0
    assert not list(path.glob("*.tmp*"))


def wait_for(is_so, *, seconds: float = 60.0) -> None:
    last = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < last, "waited too long"
        time.sleep(0.005)


def test_reading_goes_on_while_a_load_works_and_sees_old_data_or_new(say, small, monkeypatch):
    from pipelines.facts.build import build

    path = loaded(say, small)
    is_building, may_go_on = threading.Event(), threading.Event()

    def slow(connection, settings):
        build(connection, settings)
        is_building.set()
        assert may_go_on.wait(60)

    monkeypatch.setattr("pipelines.facts.build.build", slow)
    counts = []
    with warehouse.reading(path) as held:  # a reader that was there before
        loader = threading.Thread(target=cli.main, args=(["load", str(more(small)), "--warehouse", str(path)],))
        loader.start()
        assert is_building.wait(60)
        counts += [count(held), count_in(path)]
        may_go_on.set()
        loader.join(60)
        counts += [count(held), count_in(path)]
    assert counts == [2, 2, 2, 4]


def count(connection) -> int:
    return connection.execute("SELECT count(*) FROM job").fetchall()[0][0]


def count_in(path: Path) -> int:
    with warehouse.reading(path) as connection:
        return count(connection)


def test_a_folder_that_cannot_be_made_ends_with_four(say, small):
    assert say("load", small / "jobs.csv", "--warehouse", small / "jobs.csv" / "warehouse")[0] == 4


def test_the_lock_is_free_after_every_load(say, small):
    path = loaded(say, small)
    with filelock.FileLock(path / "load.lock", timeout=0):
        pass
