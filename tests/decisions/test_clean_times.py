"""Cleans of a day one after another: never outside the hours, in order, apart; the lack is what mends it, no minute less."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.decisions.clean_times import evenly, laid

EDGES = st.lists(st.integers(0, 24 * 60), min_size=2, max_size=8, unique=True).map(sorted)
STRETCHES = EDGES.map(lambda edges: list(zip(edges[::2], edges[1::2], strict=False)))
MINUTES = st.lists(st.integers(1, 90), min_size=1, max_size=30)


@settings(max_examples=200, deadline=None)
@given(minutes=MINUTES, stretches=STRETCHES)
def test_every_clean_lies_within_the_hours_or_the_lack_is_told(minutes, stretches):
    begins, short = laid(minutes, stretches)
    ends = [begin + length for begin, length in zip(begins, minutes, strict=True)]
    assert all(end <= begin for end, begin in zip(ends, begins[1:], strict=False))
    *others, (last, end) = stretches
    for length, hours in ((short, [*others, (last, end + short)]), (short - 1, [*others, (last, end + short - 1)])):
        assert (laid(minutes, hours) == (begins, 0)) == (length == short)
        if short == 0:
            break
    inside = [any(low <= begin and stop <= high for low, high in stretches) for begin, stop in zip(begins, ends, strict=True)]
    assert all(inside) == (short == 0)


@settings(max_examples=200, deadline=None)
@given(stretches=STRETCHES, count=st.integers(1, 40))
def test_an_even_share_is_the_longest_that_fits(stretches, count):
    length = evenly(stretches, count)
    fits = laid([length] * count, stretches)[1] == 0
    assert fits or length == 1
    assert laid([length + 1] * count, stretches)[1] > 0


def test_by_hand():
    assert laid([30, 30, 30], [(540, 600), (840, 900)]) == ([540, 570, 840], 0)
    assert laid([40, 40, 40], [(540, 600), (840, 900)]) == ([540, 840, 880], 20)
    assert laid([25] * 8, [(540, 720)]) == ([540 + 25 * one for one in range(8)], 20)
    assert laid([20], []) == ([0], 20)
    assert laid([], [(540, 720)]) == ([], 0)
    assert (evenly([(540, 720)], 8), evenly([(540, 600), (840, 900)], 3), evenly([(540, 545)], 9)) == (22, 30, 1)
