"""A stick is taken as it is described, and what cannot be is refused in words."""

from __future__ import annotations

import pytest

from pipelines.answers.bench_case import bench_case
from pipelines.answers.question import asked
from pipelines.errors import SettingError
from pipelines.settings import Settings

FAMILIES = ["Nolm", "Velm"]


def test_words_are_read_as_the_exports_write_them():
    found = bench_case(
        {"family": "nolm", "mode": "Jitter", "mechanism": "track wear", "sensor_type": "hall", "depth": "clean_flush",
         "af_rest_offset_pct": "7.5", "attempt_number": "3", "failed_tries": "1"}, FAMILIES,
    )  # fmt: skip
    assert (found.family, found.mode, found.mechanism, found.sensor_type, found.depth) == (
        "Nolm", "jitter", "track_wear", "hall", "flush",
    )  # fmt: skip
    assert (found.readings, found.attempt_number, found.failed_tries, found.assumed) == ({"af_rest_offset_pct": 7.5}, 3, 1, ())


def test_an_alias_of_a_family_is_taken():
    assert bench_case({"family": "NV 1"}, FAMILIES, {"nv 1": "Nolm"}).family == "Nolm"


def test_what_is_not_said_is_the_first_clean_and_said_to_be_taken_so():
    found = bench_case({"mode": "jitter", "sensor_type": "unknown"}, FAMILIES)
    assert (found.attempt_number, found.failed_tries, found.depth, found.sensor_type) == (1, 0, None, None)
    assert found.assumed == ("attempt_number", "failed_tries")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({}, "Nothing is said of the stick"),
        ({"mode": "unknown", "depth": "air"}, "Nothing is said of the stick"),
        ({"family": "Nol"}, "Did you mean Nolm"),
        ({"mode": "sneezing"}, "is no mode"),
        ({"family": "Nolm", "depth": "deep"}, "is no depth"),
        ({"family": "Nolm", "depth": "clean_flush+clean_open"}, "is no depth"),
        ({"af_rest_offset_pct": "-1"}, "out of range"),
        ({"af_rest_offset_pct": "101"}, "out of range"),
        ({"af_jitter_pct": "201"}, "out of range"),
        ({"af_reach_pct": "nan"}, "out of range"),
        ({"af_reach_pct": "much"}, "is no number"),
        ({"family": "Nolm", "attempt_number": "0"}, "out of range"),
        ({"family": "Nolm", "attempt_number": "1.5"}, "not a whole number"),
        ({"family": "Nolm", "attempt_number": "2", "failed_tries": "2"}, "2 cleans cannot have failed before clean number 2"),
    ],
)
def test_what_cannot_be_is_refused(words, said):
    with pytest.raises(SettingError, match=said):
        bench_case(words, FAMILIES)


@pytest.mark.parametrize(
    "more", [{"case": {"colour": "red"}}, {"by": ["family"]}, {"where": {"family": ["Nolm"]}}, {"clock": "days"}, {"level": 1.0}]
)
def test_words_that_do_not_go_with_the_question_are_refused(more):
    given = {"by": [], "where": {}, "clock": None, "level": None, "settings": Settings()} | more
    with pytest.raises(SettingError):
        asked("clean-or-replace", **given)
