"""Watched units: what is checked, and to which stretch and group a failure belongs."""

from __future__ import annotations

import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.watched import watched
from tests.estimates.spells import table

UNITS = table("site unit entry exit\nb 7 0 10\na 8 5 20\na 7 10 30\nb 9 0 4")


def test_a_failure_joins_the_stretch_and_group_in_which_it_was_seen():
    groups, (a, b) = watched(table("unit at\n7 10\n7 10.5\n8 20\n7 12"), UNITS, by=["site"])
    assert groups.tuples() == [("a",), ("b",)]
    assert (a.entry.tolist(), a.exit.tolist()) == ([10, 5], [30, 20])
    assert (a.at.tolist(), a.watch.tolist()) == ([10.5, 12, 20], [0, 0, 1])
    assert (b.at.tolist(), b.watch.tolist(), b.unit_count) == ([10], [0], 2)


def test_what_was_seen_after_an_age_leaves_stretches_and_failures_before_it_out():
    _, (everything,) = watched(table("unit at\n7 3\n7 8\n8 20"), UNITS, by=[])
    after = everything.since(6)
    assert (after.entry.tolist(), after.exit.tolist()) == ([6, 10, 6], [10, 30, 20])
    assert (after.at.tolist(), after.watch.tolist()) == ([8, 20], [0, 2])


def test_a_unit_watched_in_two_groups_at_once_needs_failures_that_name_their_group():
    units = table("stick unit entry exit\nL 7 0 10\nR 7 0 20")
    _, (left, right) = watched(table("stick unit at\nR 7 5\nL 7 6\nR 7 15"), units, by=["stick"])
    assert (left.at.tolist(), right.at.tolist()) == ([6], [5, 15])
    with pytest.raises(InputError, match="watched twice"):
        watched(table("unit at\n7 5"), units, by=["stick"])


@pytest.mark.parametrize(
    ("events", "units", "what"),
    [
        ("unit at\n7 10.5\n8 5", UNITS, "outside the watch"),
        ("unit at\n9 4.5", UNITS, "outside the watch"),
        ("unit at\n3 4.5", UNITS, "outside the watch"),
        ("unit at\n7 -1", UNITS, "negative time"),
        ("unit at\n7 nan", UNITS, "missing"),
        ("unit when\n7 1", UNITS, "lack the column at"),
        ("unit at\n7 1", UNITS.drop(columns="site"), "lack the column site"),
        ("unit at\n7 1", UNITS.assign(exit=UNITS["entry"]), "leaves when or before it enters"),
        ("unit at\n7 1", UNITS.assign(exit=float("inf")), "leaves when or before it enters"),
        ("unit at\n7 1", UNITS.assign(unit=7), "watched twice"),
        ("unit at\n7 1", UNITS.assign(unit=[7, 8, None, 9]), "names no unit"),
        ("unit at\n7 1", UNITS.assign(is_ended_by_failure=True), "ended by failure holds none"),
    ],
)
def test_histories_that_cannot_be_are_refused_in_words(events, units, what):
    with pytest.raises(InputError, match=what):
        watched(table(events), units, by=["site"])


def test_empty_frames_have_no_groups():
    groups, found = watched(pd.DataFrame(columns=["unit", "at"]), UNITS.iloc[:0], by=["site"])
    assert (groups.count, found) == (0, [])
    _, (a, b) = watched(pd.DataFrame(columns=["site", "unit", "at"]), UNITS, by=["site"])
    assert (len(a.at), len(b.at), a.unit_count) == (0, 0, 2)
