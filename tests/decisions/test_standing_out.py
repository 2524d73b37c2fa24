"""A group stands out only when the log is sure of it."""

import pytest

from pipelines.decisions.standing_out import Rated, standing_out

ROWS = """
Corvath  0.26  0.23  0.30  704
Dunmarl  0.58  0.55  0.61  873
Ambrel   0.45  0.42  0.49  743
"""


def rated(rows: str = ROWS) -> list[Rated]:
    found = []
    for line in rows.strip().splitlines():
        name, estimate, low, high, count = line.split()
        found.append(Rated(name, float(estimate), limit(low), limit(high), int(count)))
    return found


def limit(word: str) -> float | None:
    return None if word == "-" else float(word)


def test_the_two_ends_are_named_when_their_intervals_are_apart():
    found = standing_out(rated())
    assert (found.highest.name, found.lowest.name, found.is_apart) == ("Dunmarl", "Corvath", True)


@pytest.mark.parametrize(
    "rows",
    [
        "A 0.4 0.3 0.5 50\nB 0.5 0.45 0.6 50",
        "A 0.4 0.3 0.5 50\nB 0.5 0.5 0.6 50",  # touching is not apart
        "A 0.4 0.3 - 50\nB 0.9 0.8 1.0 50",  # an open limit may reach anywhere
        "A 0.4 0.3 0.5 50\nB 0.9 - 1.0 50",
    ],
)
def test_overlapping_or_open_intervals_are_not_apart(rows):
    assert not standing_out(rated(rows)).is_apart


def test_open_limits_on_the_outer_sides_do_not_matter():
    assert standing_out(rated("A 0.4 - 0.5 50\nB 0.9 0.8 - 50")).is_apart


def test_small_groups_are_never_named():
    found = standing_out(rated(f"{ROWS.strip()}\nLucky 1.00 0.65 1.00 7"))
    assert found.highest.name == "Dunmarl"
    assert (found.compared_count, found.too_small_count) == (3, 1)


def test_one_group_alone_is_not_compared():
    found = standing_out(rated("A 0.4 0.3 0.5 50\nB 0.9 0.8 1.0 3"))
    assert (found.highest, found.lowest, found.is_apart) == (None, None, False)


def test_the_order_of_groups_does_not_matter():
    assert standing_out(rated()) == standing_out(rated()[::-1])
