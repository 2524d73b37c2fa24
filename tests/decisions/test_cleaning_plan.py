"""Cleans spread over days: never over the capacity, never on a closed day, each once, none too early; least lateness by trial."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.decisions.cleaning_plan import coming, levelled

DUE = st.lists(st.integers(-40, 60), max_size=60)
CLOSED = st.sets(st.integers(0, 6), max_size=6)


def open_days(closed: set[int], count: int) -> np.ndarray:
    days = np.arange(61 + 7 * (count + 10))
    return days[~np.isin(days % 7, list(closed))]


@settings(max_examples=120, deadline=None)
@given(due=DUE, closed=CLOSED, capacity=st.integers(1, 8), slack=st.integers(0, 14))
def test_every_plan_keeps_the_rules(due, closed, capacity, slack):
    given_due, usable = np.array(due, dtype=int), open_days(closed, len(due))
    plan = levelled(given_due, usable, capacity=capacity, slack_days=slack)
    assert len(plan.day) == len(due)
    assert np.isin(plan.day, usable).all()
    assert (plan.day >= np.maximum(given_due - slack, 0)).all()
    assert not len(due) or np.bincount(plan.day).max() <= capacity
    enough = levelled(given_due, usable, capacity=plan.capacity_needed, slack_days=slack)
    assert not enough.is_late.any()
    assert (plan.most_days_late > 0) == plan.is_late.any()
    assert plan.is_late.any() == (capacity < plan.capacity_needed)


GAP = st.one_of(st.floats(0.5, 90), st.just(1e11))


@settings(max_examples=120, deadline=None)
@given(fleet=st.lists(st.tuples(st.integers(-40, 55), GAP), max_size=30), days=st.integers(56, 200), slack=st.integers(0, 14))
def test_cleans_come_due_again_as_counted_one_by_one(fleet, days, slack):
    first, gaps = (np.array([one[place] for one in fleet], dtype=kind) for place, kind in enumerate((int, float)))
    found = coming(first, gaps, days=days, slack_days=slack)
    counted = []
    for place, (due, gap) in enumerate(fleet):
        counted.append((place, 1, due))
        begun = slack if due < 0 else due
        while gap > slack and begun + gap * (number := counted[-1][1]) < days:
            counted.append((place, number + 1, int(begun + gap * number)))
    assert list(zip(*(one.tolist() for one in found), strict=True)) == counted


@settings(max_examples=60, deadline=None)
@given(due=DUE, capacity=st.integers(1, 5), slack=st.integers(0, 9), seed=st.integers(0, 99))
def test_the_order_of_the_rows_changes_nothing(due, capacity, slack, seed):
    rows, usable = np.array(due, dtype=int), open_days({5, 6}, len(due))
    other = rows[np.random.default_rng(seed).permutation(len(rows))]
    plans = [levelled(one, usable, capacity=capacity, slack_days=slack) for one in (rows, other)]
    said = [sorted(zip(one, plan.day, strict=True)) for one, plan in zip((rows, other), plans, strict=True)]
    assert said[0] == said[1]


@settings(max_examples=40, deadline=None)
@given(due=st.lists(st.integers(0, 9), min_size=1, max_size=6), slack=st.integers(0, 4))
def test_no_order_is_less_late(due, slack):
    """Against every order of one a day: the greatest lateness is the least there is."""
    rows = np.array(due)
    plan = levelled(rows, np.arange(40), capacity=1, slack_days=slack)
    best = 99
    for order in permutations(range(len(due))):
        day, late = -1, 0
        for one in order:
            day = max(day + 1, due[one] - slack, 0)
            late = max(late, day - due[one])
        best = min(best, late)
    assert plan.most_days_late == best


@pytest.mark.parametrize(
    ("due", "capacity", "slack", "days"),
    [
        ([10, 10, 10, 10], 2, 3, [9, 9, 10, 10]),  # as near to the day as two a day allow
        ([10, 10, 10, 10], 1, 1, [9, 10, 11, 12]),  # too few a day: late, from the first day allowed on
        ([5], 1, 7, [4]),  # day 5 is closed
        ([-3, -2], 1, 7, [0, 1]),  # overdue: at once
        ([], 1, 7, []),
    ],
)
def test_by_hand(due, capacity, slack, days):
    usable = np.array([day for day in range(40) if day % 7 not in (5, 6)]) if due == [5] else np.arange(40)
    plan = levelled(np.array(due, dtype=int), usable, capacity=capacity, slack_days=slack)
    assert sorted(plan.day.tolist()) == days
