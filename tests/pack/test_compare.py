"""Figures are held against each other one by one: what counts as the same, what is counted, what is named."""

from __future__ import annotations

import json
import math

import pytest

from pipelines.pack.compare import Compared, Difference, compare, leaves


def held(packed: object, anew: object, *, is_same_software: bool = True) -> Compared:
    return compare(
        {"x.json": json.dumps(packed).encode()}, {"x.json": json.dumps(anew).encode()}, is_same_software=is_same_software
    )


def test_every_leaf_has_its_place():
    told = {"a": [1.0, {"b": None}], "c": {}, "d": "x", "e": []}
    assert dict(leaves(told)) == {"a/0": 1.0, "a/1/b": None, "c": {}, "d": "x", "e": []}
    assert list(leaves(3.0)) == [("", 3.0)]


def test_all_the_same_is_told_with_how_many_numbers_it_was():
    told = {"n": 3, "x": 0.25, "is": True, "word": "a", "none": None}
    assert held(told, told) == Compared(2, 2, 0.0, 0, [])


def test_a_number_within_a_millionth_is_the_same_but_not_exact():
    found = held({"x": 2.0, "y": 1.0}, {"x": 2.0 + 1e-7, "y": 1.0})
    assert (found.figures, found.exact, found.differences) == (2, 1, [])
    assert found.gap == pytest.approx(5e-8, rel=1e-3)


@pytest.mark.parametrize(
    ("one", "other"), [(2.0, 2.00001), (0.0, 1e-9), (1.0, None), (None, 1.0), (1.0, "1.0"), (True, 1.0), (1.0, -1.0)]
)
def test_what_differs_is_named_with_its_place(one, other):
    assert held({"a": [{"b": one}]}, {"a": [{"b": other}]}).differences == [Difference("x.json", "a/0/b", one, other)]


def test_what_is_no_number_is_never_close():
    assert len(held({"x": math.inf, "y": math.nan}, {"x": 1.0, "y": math.nan}).differences) == 2


def test_what_is_there_on_one_side_only_differs():
    assert held({"a": 1.0}, {}).differences[0].anew is None
    assert held({"a": [1.0]}, {"a": [1.0, 2.0]}).differences == [Difference("x.json", "a/1", None, 2.0)]
    assert len(compare({"x.json": b"[1]"}, {}, is_same_software=True).differences) == 1


def test_other_software_may_word_things_otherwise_and_say_more_but_not_other_numbers():
    packed, anew = {"a": 1.0, "word": "few"}, {"a": 1.0, "word": "some", "b": 2.0}
    assert held(packed, anew, is_same_software=False) == Compared(1, 1, 0.0, 2, [])
    assert len(held(packed, anew).differences) == 2
    assert len(held({"a": 1.0}, {"a": 1.1}, is_same_software=False).differences) == 1
    assert len(held({"a": 1.0}, {}, is_same_software=False).differences) == 1


def test_tables_are_compared_cell_by_cell():
    found = compare({"rows.csv": b"unit,line\nA,1\nB,2\n"}, {"rows.csv": b"unit,line\nA,1\nB,3\n"}, is_same_software=True)
    assert found == Compared(0, 0, 0.0, 0, [Difference("rows.csv", "1/line", "2", "3")])


def test_the_page_must_be_that_of_the_figures():
    packed, anew = {"exhibit.html": b"forged", "x.json": b"1"}, {"exhibit.html": b"true", "x.json": b"1"}
    assert [one.member for one in compare(packed, anew, is_same_software=True).differences] == ["exhibit.html"]
    assert compare(packed, anew, is_same_software=False).differences == []
