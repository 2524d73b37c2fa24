"""The figure of cleaning success shows both shares of each group with their intervals."""

import pytest

from pipelines.charts.dots import MOST_ROWS
from pipelines.charts.share import share_figure, undrawn
from tests.charts.answers import answer, cleaning_group


def cleaning(groups, by=("family",)):
    return answer(groups, question="cleaning-success", clock="days", by=list(by))


def test_each_group_has_a_dot_for_the_same_day_and_one_for_later():
    figure = share_figure(cleaning([cleaning_group({"family": "Corvath"}, k=30, n=60)]))
    same_day, later = figure.data
    assert (same_day.name, later.name) == ("passed the same day", "still good after 90 days")
    assert (list(same_day.x), list(later.x)) == ([0.5], [0.4])
    assert list(same_day.error_x.arrayminus) == pytest.approx([0.3])
    assert list(same_day.error_x.array) == pytest.approx([0.3])
    assert "30 of 60" in same_day.customdata[0]


def test_families_stand_from_best_to_worst():
    groups = [cleaning_group({"family": name}, k=k, n=100) for name, k in (("A", 30), ("B", 80), ("C", 55))]
    assert share_figure(cleaning(groups)).layout.yaxis.ticktext == ("B (100)", "C (100)", "A (100)")


def test_attempt_numbers_keep_their_order():
    groups = [cleaning_group({"attempt_number": number}, k=k, n=100) for number, k in ((1, 30), (2, 80), (3, 55))]
    names = share_figure(cleaning(groups, by=["attempt_number"])).layout.yaxis.ticktext
    assert names == ("attempt number 1 (100)", "attempt number 2 (100)", "attempt number 3 (100)")


def test_a_small_group_is_faint_and_says_so_but_is_not_hidden():
    groups = [cleaning_group({"family": "A"}, k=30, n=60), cleaning_group({"family": "B"}, k=2, n=5)]
    figure = share_figure(cleaning(groups))
    faint = [trace for trace in figure.data if len(trace.marker.color) == 9]
    assert [list(trace.x) for trace in faint] == [[0.4], [0.4]]
    assert figure.layout.yaxis.ticktext[1] == "B (5)<br>too few to say"


def test_a_share_that_cannot_be_told_has_no_dot():
    figure = share_figure(cleaning([cleaning_group({"family": "A"}, k=30, n=60, durable=None)]))
    assert [trace.name for trace in figure.data] == ["passed the same day"]


def test_the_largest_groups_are_drawn_and_the_rest_is_counted():
    groups = [cleaning_group({"family": f"F{number:02}"}, k=5, n=10 + number) for number in range(20)]
    said = cleaning(groups)
    assert len(share_figure(said).layout.yaxis.ticktext) == MOST_ROWS
    assert undrawn(said) == 4


def test_text_from_the_log_is_shown_as_it_is():
    figure = share_figure(cleaning([cleaning_group({"family": "<i>x</i>"}, k=30, n=60)]))
    assert figure.layout.yaxis.ticktext == ("&lt;i&gt;x&lt;/i&gt; (60)",)
    assert "<i>" not in figure.to_json()
