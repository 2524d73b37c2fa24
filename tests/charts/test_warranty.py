"""The figure of returns: any reason and a fault for one group, the groups beside each other, and what is accepted."""

from __future__ import annotations

import pytest

from pipelines.charts.warranty import MOST_CURVES, undrawn, warranty_figure
from tests.answers.test_warranty import USUAL, warranty


def lines(figure):
    return [trace for trace in figure.data if trace.mode == "lines" and trace.hoverinfo != "skip"]


def accepted(figure):
    return [trace for trace in figure.data if trace.name == "accepted"]


def test_one_group_shows_any_reason_and_faults_named_at_their_ends():
    figure = warranty_figure(warranty(*USUAL))
    assert [trace.name for trace in lines(figure)] == ["for any reason", "for a fault"]
    assert [trace.y[-1] for trace in lines(figure)] == pytest.approx([0.1, 0.09])
    assert {"for any<br>reason", "for a fault"} <= {one.text for one in figure.layout.annotations}
    assert figure.layout.xaxis2.title.text == "days after the sale"
    assert not accepted(figure)


def test_what_is_accepted_is_a_dotted_line_where_it_is_inside():
    (line,) = accepted(warranty_figure(warranty(*USUAL, return_cost=20.0, accepted_warranty_cost=1.0)))
    assert list(line.y) == [0.05, 0.05]
    assert not accepted(warranty_figure(warranty(*USUAL, return_cost=20.0, accepted_warranty_cost=19.0)))


def test_groups_have_a_curve_each_and_the_smallest_are_left_out():
    sales = [(f"<i>F{number}", *one[1:-1], one[-1] * (number + 1)) for number in range(MOST_CURVES + 2) for one in USUAL]
    answer = warranty(*sales, by=("family",))
    figure = warranty_figure(answer)
    assert len(lines(figure)) == MOST_CURVES
    assert undrawn(answer) == 2
    assert "<i>" not in figure.to_json().replace("\\u003c", "<")
    assert lines(figure)[0].name == "&lt;i&gt;F2"


def test_a_group_too_small_to_tell_is_faint():
    figure = warranty_figure(warranty(("Nolm", "A", 30, 5.0, True, "drift", 1), ("Nolm", "A", 30, 30.0, False, None, 3)))
    assert all(len(trace.line.color) > 7 for trace in lines(figure))
