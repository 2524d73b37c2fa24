"""The figure of survival curves draws what the record says, and no more."""

import pytest

from pipelines.charts.steps import MOST_STEPS, at_risk, thinned
from pipelines.charts.survival import MOST_CURVES, survival_figure, undrawn
from tests.charts.answers import answer, life_group, points, unknown_age


def lines(figure, *, faint):
    return [
        trace for trace in figure.data
        if trace.mode == "lines" and trace.hoverinfo != "skip" and (len(trace.line.color) == 9) is faint
    ]  # fmt: skip


def test_the_curve_is_drawn_where_enough_are_at_risk_and_faint_after_that():
    figure = survival_figure(answer([life_group("Corvath")]))
    (solid,), (faint,) = lines(figure, faint=False), lines(figure, faint=True)
    assert list(solid.x) == [0, 100, 200, 300]
    assert list(solid.y) == [1, 0.9, 0.8, 0.7]
    assert list(faint.x) == [300, 400, 500]
    assert {solid.line.shape, faint.line.shape} == {"hv"}


def test_the_band_ends_where_the_line_turns_faint():
    figure = survival_figure(answer([life_group("Corvath")]))
    low, high = (trace for trace in figure.data if trace.hoverinfo == "skip" and trace.mode == "lines")
    assert (list(low.x), list(low.y)) == ([0, 100, 200, 300], [1, 0.76, 0.64, 0.53])
    assert (list(high.y), high.fill) == ([1, 0.96, 0.9, 0.82], "tonexty")


def test_the_numbers_at_risk_stand_under_the_ticks():
    figure = survival_figure(answer([life_group("Corvath")]))
    (row,) = (trace for trace in figure.data if trace.mode == "text")
    assert list(row.x) == [0, 100, 200, 300, 400, 500]
    assert list(row.text) == ["40", "40", "36", "31", "8", "2"]
    assert row.xaxis == "x2"


@pytest.mark.parametrize(("at", "count"), [(0, 40), (150, 36), (400, 8), (450, 2), (501, 0)])
def test_at_risk_is_counted_at_the_next_exit(at, count):
    assert at_risk(points(), at) == count


def test_hover_says_how_many_were_at_risk():
    (solid,) = lines(survival_figure(answer([life_group("Corvath")])), faint=False)
    assert list(solid.customdata) == ["40", "40", "36", "31"]
    assert "at risk" in solid.hovertemplate


def test_a_group_that_is_nowhere_drawn_is_faint_and_says_so():
    steps = "0 1.0 1.0 1.0 4 no\n100 0.75 0.3 0.9 4 no"
    figure = survival_figure(answer([life_group("Corvath", steps=steps)]))
    (faint,) = lines(figure, faint=True)
    assert lines(figure, faint=False) == []
    assert faint.name == "Corvath (too few to say)"
    assert faint.showlegend


def test_the_largest_groups_are_drawn_and_the_rest_is_counted():
    groups = [life_group(f"F{number:02}", spells=10 + number) for number in range(11)]
    said = answer(groups)
    drawn = [trace.name for trace in lines(survival_figure(said), faint=False)]
    assert drawn == [f"F{number:02}" for number in range(3, 11)]
    assert len(drawn) == MOST_CURVES
    assert undrawn(said) == 3


def test_modules_of_unknown_age_have_a_figure_of_their_own():
    said = answer([life_group("Corvath", since_first_seen=unknown_age()), life_group("Ambrel")])
    figure = survival_figure(said, is_age_known=False)
    assert [trace.name for trace in lines(figure, faint=False)] == ["Corvath"]
    assert figure.layout.xaxis2.title.text == "play hours since first seen"


def test_long_curves_are_thinned_but_keep_their_ends_and_the_guard():
    one = points()[0]
    many = [one._replace(at=float(at), is_drawn=17 <= at <= 4321) for at in range(5001)]
    kept = [point.at for point in thinned(many)]
    assert len(kept) <= MOST_STEPS
    assert {0.0, 17.0, 4321.0, 5000.0} <= set(kept)
    assert kept == sorted(kept)


def test_text_from_the_log_is_shown_as_it_is():
    figure = survival_figure(answer([life_group("<b>bold</b> & $x$")]))
    (solid,) = lines(figure, faint=False)
    assert solid.name == "&lt;b&gt;bold&lt;/b&gt; &amp; $x$"
    assert "<b>" not in figure.to_json()


@pytest.mark.parametrize(
    ("question", "clock", "axis"),
    [("time-to-failure", "hours", "play hours in service"), ("recurrence", "days", "days after the clean")],
)
def test_the_axis_names_the_clock(question, clock, axis):
    figure = survival_figure(answer([life_group("Corvath")], question=question, clock=clock))
    assert figure.layout.xaxis2.title.text == axis


def test_an_answer_without_curves_gives_an_empty_figure():
    assert len(survival_figure(answer([])).data) == 0
