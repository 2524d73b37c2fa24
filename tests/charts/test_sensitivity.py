"""The figure of what drives a bid: bars from bid to bid, the longest on top, with the bid as a rule."""

from pipelines.charts.sensitivity import MOST_BARS, sensitivity_figure, shown
from pipelines.decisions.bid import Swing

SWINGS = [
    Swing("freight_out", False, 4.0, 6.0, 420.0, 404.0),
    Swing("works_share", True, None, None, 300.0, 500.0),
    Swing("tax_share", False, 0.0, 0.0, 412.0, 412.0),
    Swing("other_fault", False, 0.08, 0.12, 430.0, 390.0),
]


def test_each_bar_runs_from_the_bid_to_the_bid_at_that_end():
    low, high, rule = sensitivity_figure(SWINGS, bid=412.0, unit="EUR").data
    assert (low.name, high.name) == ("at its low end", "at its high end")
    assert [low.base + one for one in low.x] == [300.0, 430.0, 420.0]
    assert [high.base + one for one in high.x] == [500.0, 390.0, 404.0]
    assert list(rule.x) == [412.0, 412.0]


def test_the_longest_stand_on_top_and_what_changes_nothing_is_left_out():
    assert [one.name for one in shown(SWINGS)] == ["works_share", "other_fault", "freight_out"]
    names = sensitivity_figure(SWINGS, bid=412.0, unit="EUR").layout.yaxis.ticktext
    assert [name.replace("<br>", " ") for name in names] == [
        "Units that work as found", "Lost to other faults", "Postage to the buyer",
    ]  # fmt: skip


def test_a_hover_says_the_bid_and_the_ends_of_the_input():
    said = sensitivity_figure(SWINGS, bid=412.0, unit="EUR").data[1].customdata
    assert said[1].startswith("Lost to other faults at its high end: bid 390\u00a0EUR<br>8 to 12\u00a0%")
    assert said[0].endswith("10th to 90th percentile")


def test_no_more_bars_than_fit():
    many = [Swing("resale", False, 1.0, 2.0, 100.0, 200.0 + one) for one in range(30)]
    assert len(shown(many)) == MOST_BARS


def test_nothing_that_moves_the_bid_gives_an_empty_figure():
    assert shown(SWINGS[2:3]) == []
    low, high, _ = sensitivity_figure(SWINGS[2:3], bid=0.0, unit="").data
    assert (len(low.x), len(high.x)) == (0, 0)
