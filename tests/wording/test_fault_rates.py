"""Places against luck in words."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from pipelines.vocabulary import Because, Clock
from pipelines.wording import fault_rates as words


def place(name: str, *, is_worse: bool = False, units: int = 2, because: Because | None = None, ratio: float = 2.7):
    return SimpleNamespace(name=name, is_worse=is_worse, units=units, because=because, failures=19, expected=7.04, ratio=ratio,
                           luck_high=1.98)  # fmt: skip


def said(what: str, *places, because: Because | None = None) -> str:
    return words.comparison_sentence(what, because, places, Clock.HOURS, 0.95)


def test_who_stands_out_is_named_with_what_luck_allows():
    assert said("station", place("N-07", is_worse=True), *(place(str(one)) for one in range(20))) == (
        "1 seat of 21 stands out beyond luck: N-07, 19 faults where 7.0 would be expected (2.7 times, luck's limit 2.0 times)."
    )
    assert "swap it" in said("station", place("N-07", is_worse=True, units=1), place("x"))
    assert said("technician", place("ann", is_worse=True), place("bob")).startswith(
        "1 technician of 2 stands out beyond luck: ann, 19 jobs back where 7.0"
    )
    many = said("station", *(place(f"s{one}", is_worse=True) for one in range(6)))
    assert many.startswith("6 seats of 6 stand out")
    assert "and 2 more" in many


def test_among_many_it_is_said_how_many_lie_above_the_limit_by_luck():
    many = said("station", place("N-07", is_worse=True), *(place(str(one)) for one in range(1279)))
    assert many.endswith("Luck's limit is for one seat alone: among 1,280 about 32 lie above it by luck.")


def test_where_nobody_stands_out_luck_is_named():
    assert said("stick", place("L"), place("R")) == "No side stands out: none of 2 sides has more faults than luck explains."
    assert "some seat among so many" in said("station", *(place(str(one)) for one in range(50)))


@pytest.mark.parametrize("what", ["station", "site", "stick", "technician"])
@pytest.mark.parametrize("because", [Because.NOT_RECORDED, Because.ONE_LEVEL, Because.NO_FAILURES, Because.NO_SPELLS])
def test_every_refusal_is_a_sentence(what, because):
    sentence = said(what, place("a"), because=because)
    assert sentence[0].isupper()
    assert sentence.endswith(".")
    assert "_" not in sentence


def test_a_note_says_why_a_place_is_not_compared_or_what_it_may_be():
    assert words.place_note("station", place("a", ratio=1.9)) == ""
    assert words.place_note("station", place("a")) == "luck among so many"
    assert (
        words.place_note("station", place("a", is_worse=True, units=1))
        == "more than luck; one controller only, so it may be that"
    )
    assert words.place_note("site", place("a", because=Because.NO_USABLE_HOURS)) == "no usable play hours are on record there"
    assert words.place_words("stick", "L") == "left"
    assert words.times_words(12.3) == "12 times"
