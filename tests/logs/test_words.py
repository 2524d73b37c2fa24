"""Code words: by exact spelling from codes.csv, the mapping and the aliases."""

import csv
from importlib.resources import files

import pytest

from pipelines.contract import columns_of
from pipelines.logs.refusal import Refusal
from pipelines.logs.spelling import fold
from pipelines.logs.words import CodeReader, known_words, list_name
from pipelines.vocabulary import CODES


def reader(name: str, table: str = "jobs", own: dict[str, str] | None = None) -> CodeReader:
    return CodeReader(next(column for column in columns_of(table) if column.name == name), own or {})


@pytest.mark.parametrize("name", CODES)
def test_every_code_of_every_list_has_its_words(name):
    assert set(known_words(name).values()) == {str(code) for code in CODES[name]}


def test_no_word_means_two_codes_of_one_list():
    text = files("pipelines").joinpath("codes.csv").read_text(encoding="utf-8")
    meant: dict[tuple[str, str], set[str]] = {}
    for row in csv.DictReader(text.splitlines()):
        for word in (row["code"], *row["words_seen"].split(",")):
            if word.strip():
                meant.setdefault((row["list"], fold(word.strip())), set()).add(row["code"])
    assert {key: codes for key, codes in meant.items() if len(codes) > 1} == {}


@pytest.mark.parametrize(
    ("name", "said", "code"),
    [
        ("stick", "Left", "L"), ("stick", "r/h", "R"), ("stick", "both", "B"), ("stick", "?", "U"),
        *[("sticks", said, "L+R") for said in ("LR", "L R", "L/R", "R, L", "left+right", "Left and right", "both", "2", "B")],
        ("sticks", "1", "S"), ("sticks", "left", "L"), ("sticks", "three", None),
        ("outcome", "OK", "pass"), ("outcome", "x", "pass"), ("outcome", "still drifts", "fail"), ("outcome", " ng ", "fail"),
        ("outcome", "ok-ish", "pass_with_note"), ("outcome", "n/a", "unknown"), ("outcome", "", None),
        ("finding", "N.F.F.", None), ("finding", "NFF", "no_fault_found"), ("finding", "Comes and goes", "intermittent"),
        ("failure_mode", "no up/down", "axis_dead"), ("failure_mode", "doesn't snap back", "poor_return"),
        ("visit_reason", "warranty", "warranty_return"), ("life_known_from", "second hand", "bought_used"),
        ("usage_basis", "hour meter", "metered"), ("disposition", "grade B", "grade_b"),
    ],
)  # fmt: skip
def test_a_shop_word_is_read_as_its_code(name, said, code):
    read = reader(name, "units" if name == "sticks" else "jobs").of(said)
    assert read == code if code or said == "" else isinstance(read, Refusal)


@pytest.mark.parametrize(
    ("said", "steps"),
    [
        ("clean_flush+clean_open+replace_module", "clean_flush+clean_open+replace_module"),
        ("Sprayed, opened", "clean_flush+clean_open"), ("blown out then new stick", "clean_air+replace_module"),
        ("IPA & re-centre", "clean_flush+recalibrate"), ("air / flush; reflow", "clean_air+clean_flush+resolder"),
        ("dusted and cal", "clean_air+recalibrate"), ("open and clean", "clean_open"), ("checked +", "test_only"),
        ("none", "test_only"),
    ],
)  # fmt: skip
def test_work_is_a_list_of_steps_in_order(said, steps):
    assert reader("action").of(said) == steps


def test_an_unknown_step_is_refused_with_the_line_to_write():
    refusal = reader("action").of("opened + polished")
    assert refusal.reason == "'polished' is not a known word for action"
    assert '[codes.action] "polished" = one of test_only, clean_air' in refusal.remedy


def test_a_clean_of_unknown_depth_is_not_guessed():
    assert isinstance(reader("action").of("cleaned"), Refusal)


def test_likeness_is_not_enough():
    assert isinstance(reader("outcome").of("passd"), Refusal)


def test_the_users_own_word_wins():
    own = {fold("Done"): "fail", fold("full service"): "clean_flush+clean_open", fold("tbd"): ""}
    assert reader("outcome", own=own).of("done") == "fail"
    assert reader("action", own=own).of("full service + cal") == "clean_flush+clean_open+recalibrate"
    assert reader("outcome", own=own).of("TBD") is None


def test_lists_that_two_tables_mean_differently_are_told_apart():
    assert list_name(next(column for column in columns_of("prices") if column.name == "kind")) == "prices.kind"
    assert reader("kind", "prices").of("labour") == "labour_per_hour"
    assert '[codes."aliases.kind"]' in reader("kind", "aliases").of("colour").remedy
