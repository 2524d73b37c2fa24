"""Curves that rise: mechanisms named at their ends, and mean counts."""

from dataclasses import replace
from itertools import pairwise

import pytest

from pipelines.charts.mean_count import mean_count_figure
from pipelines.charts.mechanisms import MOST_CURVES, mechanism_figure, shown
from tests.charts.answers import answer, life_group
from tests.charts.details import mean_cumulative, mechanism, with_mechanisms


def lines(figure):
    return [trace for trace in figure.data if trace.mode == "lines" and trace.hoverinfo != "skip"]


def test_each_mechanism_has_a_curve_with_its_name_at_the_end():
    group = with_mechanisms(life_group("A"), mechanism("track_wear", failures=9), mechanism("not_recorded", failures=20))
    figure = mechanism_figure(answer([group]), group)
    solid = [trace for trace in lines(figure) if len(trace.line.color) == 7]
    assert [trace.name for trace in solid] == ["not recorded", "track wear"]
    assert list(solid[0].y) == pytest.approx([0, 0.075, 0.15, 0.225])
    assert {"track wear", "not recorded"} <= {one.text for one in figure.layout.annotations}
    assert not figure.layout.showlegend


def test_the_mechanisms_share_one_row_of_those_at_risk():
    group = with_mechanisms(life_group("A"), mechanism("track_wear", failures=9), mechanism("impact", failures=5))
    (row,) = (trace for trace in mechanism_figure(answer([group]), group).data if trace.mode == "text")
    assert list(row.text) == ["40", "32", "24", "16", "8"]


def test_names_at_the_ends_of_curves_that_end_together_stand_apart():
    group = with_mechanisms(life_group("A"), *(mechanism(name, failures=9) for name in ("impact", "spring_fatigue", "corrosion")))
    figure = mechanism_figure(answer([group]), group)
    named = {one.text.replace("<br>", " "): one.y for one in figure.layout.annotations if one.yref == "y"}
    heights = sorted(named[name] for name in ("impact", "spring fatigue", "corrosion"))
    top = figure.layout.yaxis.range[1]
    assert all(later - earlier > 0.04 * top for earlier, later in pairwise(heights))
    assert 0 < heights[0] < heights[-1] < top


def test_the_most_frequent_mechanisms_are_drawn():
    many = [mechanism(name, failures=number) for number, name in enumerate("abcdefgh", 1)]
    assert [curve.name for curve in shown(with_mechanisms(life_group("A"), *many))] == list("hgfedc")[:MOST_CURVES]


def test_a_group_without_mechanisms_gives_an_empty_figure():
    group = life_group("A")
    assert not mechanism_figure(answer([group]), group).data


def test_mean_counts_rise_above_one_with_the_axis_and_a_row_of_those_at_risk():
    group = replace(life_group("A"), mean_cumulative=mean_cumulative(last=4.0))
    figure = mean_count_figure(answer([group, life_group("B")], question="recurrence"))
    (solid,) = (trace for trace in lines(figure) if len(trace.line.color) == 7)
    assert list(solid.y) == pytest.approx([0, 1, 2, 3])
    assert figure.layout.yaxis.range[1] > 4
    assert figure.layout.xaxis2.title.text == "play hours since the controller was new"
    assert [list(trace.text) for trace in figure.data if trace.mode == "text"] == [["40", "35", "30", "25", "20"]]
