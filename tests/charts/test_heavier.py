"""The figures of laws, interval curves, pooled groups, factors and what a clean gives back draw what the record says."""

from dataclasses import replace

import pytest

from pipelines.charts.beside import (
    controller_figure,
    has_rows,
    pooled_figure,
    site_figure,
    standardised_figure,
    survivor_figure,
    undrawn,
)
from pipelines.charts.clock import clock_figure
from pipelines.charts.factors import factor_figure
from pipelines.charts.interval import interval_figure
from pipelines.charts.law_plot import law_figure
from pipelines.charts.restoration import MOST_ROWS as MOST_CLEANS
from pipelines.charts.restoration import restoration_figure
from pipelines.charts.restoration import undrawn as undrawn_cleans
from pipelines.charts.theme import SCREEN
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because
from tests.charts.answers import answer, cleaning_group, life_group
from tests.charts.details import (
    by_controller,
    by_site,
    clock_question,
    factor_group,
    interval_curve,
    law_plot,
    level,
    pooled_life,
    pooled_share,
    restoration_group,
    standardised,
    surviving_at,
    with_pooled,
)


def test_the_dots_stand_once_on_the_axis_of_each_law_with_its_line():
    figure = law_figure(answer([life_group("A")]), law_plot())
    dots = [trace for trace in figure.data if trace.mode == "markers"]
    assert len(dots) == 2
    assert list(dots[0].x) == list(dots[1].x)
    assert {trace.yaxis for trace in dots} == {"y", "y2"}
    bands = [trace for trace in figure.data if trace.fill == "tonexty"]
    assert [len(trace.x) for trace in bands] == [10, 0]
    assert set(figure.layout.yaxis.ticktext) >= {"50%", "10%"}


def test_a_law_that_was_not_fitted_leaves_the_dots():
    figure = law_figure(answer([life_group("A")]), replace(law_plot(), weibull=[], lognormal=[]))
    assert [len(trace.x) for trace in figure.data if trace.mode == "markers"] == [40, 40]
    assert not any(len(trace.x) for trace in figure.data if trace.mode == "lines")


def test_an_interval_curve_is_flat_where_it_is_known_and_shaded_where_it_falls():
    group = replace(life_group("A"), interval_curve=interval_curve())
    limits, falls, flats = interval_figure(answer([group]), group).data
    assert list(flats.x) == [0, 100, None, 200, 300, None, 400]
    assert list(flats.y) == [1, 1, None, 0.8, 0.8, None, 0.5]
    assert [max(falls.y[:5]), min(falls.y[:5]), falls.x[0], falls.x[1]] == [1, 0.8, 100, 200]
    assert (list(limits.x[:5]), list(limits.y[:5])) == ([100, 200, 200, 100, 100], [0.6, 0.6, 1, 1, 0.6])
    assert (list(limits.x[6:11]), list(limits.y[6:11])) == ([200, 300, 300, 200, 200], [0.6, 0.6, 0.9, 0.9, 0.6])


def test_a_stretch_in_which_nothing_falls_is_drawn_through():
    curve = interval_curve()
    still = replace(curve, points=[curve.points[0], replace(curve.points[0], from_at=220.0, to_at=240.0), curve.points[1]])
    group = replace(life_group("A"), interval_curve=still)
    *_, flats = interval_figure(answer([group]), group).data
    assert list(flats.x) == [0, 100, None, 200, 300, None, 400]


def test_no_interval_curve_gives_an_empty_figure():
    assert not interval_figure(answer([life_group("A")]), life_group("A")).data


def test_pooled_lives_stand_by_length_beside_what_each_group_shows_alone():
    groups = [
        with_pooled(life_group("A", median=Estimate(200.0, 100.0, 900.0)), pooled_life(300, rank=2, low=1, high=2)),
        with_pooled(life_group("B"), pooled_life(450, rank=1, low=1, high=1)),
        life_group("C"),
    ]
    figure = pooled_figure(answer(groups))
    together, alone = figure.data
    assert figure.layout.yaxis.ticktext == ("B (12)<br>rank 1", "A (12)<br>rank 1 to 2")
    assert (list(together.x), list(alone.x)) == ([450, 300], [480, 200])
    assert alone.marker.color == SCREEN.grey
    assert figure.layout.xaxis.title.text == "half drift by, play hours"
    assert figure.layout.xaxis.range[1] < 900  # a wide interval of a group alone does not squeeze the others


def test_pooled_lives_fall_back_to_one_in_ten():
    pooled = replace(pooled_life(300, rank=1, low=1, high=1), median=Estimate.refused(Because.NOT_REACHED))
    figure = pooled_figure(answer([with_pooled(life_group("A"), pooled)]))
    assert list(figure.data[0].x) == [100]
    assert figure.layout.xaxis.title.text.startswith("one in ten drift by")


def test_pooled_shares_stand_on_an_axis_of_shares():
    groups = [with_pooled(cleaning_group({"family": "A"}, k=3, n=9), pooled_share(0.4, rank=1, low=1, high=3))]
    figure = pooled_figure(answer(groups, question="cleaning-success", clock="days"))
    assert [list(trace.x) for trace in figure.data] == [[0.4], [pytest.approx(1 / 3)]]
    assert figure.layout.xaxis.tickformat == ".0%"


def test_pooled_groups_beyond_the_screen_are_counted():
    groups = [with_pooled(life_group(f"F{n:02}"), pooled_life(300 + n, rank=1, low=1, high=1)) for n in range(20)]
    assert len(pooled_figure(answer(groups)).layout.yaxis.ticktext) + undrawn(answer(groups)) == 20


def test_limits_by_controller_stand_beside_those_by_stick():
    groups = [replace(life_group("A"), by_controller=by_controller(480.0)), life_group("B")]
    figure = controller_figure(answer(groups))
    assert [(trace.name, list(trace.x)) for trace in figure.data] == [
        ("limits by controller", [480.0]), ("limits by stick", [480.0]),
    ]  # fmt: skip
    assert has_rows(answer(groups), "by_controller")
    assert not has_rows(answer(groups), "pooled")


def test_limits_by_site_stand_beside_those_by_stick():
    groups = [replace(life_group("A"), by_site=by_site(480.0)), life_group("B")]
    figure = site_figure(answer(groups))
    assert [(trace.name, list(trace.x)) for trace in figure.data] == [
        ("limits by site", [480.0]), ("limits by stick", [480.0]),
    ]  # fmt: skip


def test_the_share_still_good_stands_by_the_curve_and_by_the_law_the_best_first():
    beyond = replace(surviving_at(0.9), curve=Estimate.refused(Because.NOT_REACHED))
    groups = [replace(life_group(name), surviving_at=part)
              for name, part in (("A", surviving_at(0.6)), ("B", surviving_at(0.8)), ("C", beyond))]  # fmt: skip
    curve, law = survivor_figure(answer([*groups, life_group("D")])).data
    assert (list(curve.x), list(law.x)) == ([0.8, 0.6], [0.75, pytest.approx(0.55)])
    assert survivor_figure(answer(groups)).layout.xaxis.title.text == "still good at 200 play hours"
    assert not survivor_figure(answer([life_group("D")])).data


def test_what_had_been_if_all_had_been_cleaned_stands_beside_what_was():
    groups = [replace(cleaning_group({"family": "A"}, k=6, n=10), standardised=standardised(0.5))]
    figure = standardised_figure(answer(groups, question="cleaning-success", clock="days"))
    assert [list(trace.x) for trace in figure.data] == [[0.5], [0.6]]


def test_the_clock_stands_between_hours_and_days():
    figure = clock_figure(clock_question(-0.8))
    assert [list(one.x) for one in figure.data] == [[-0.8], [-1, -1], [0, 0]]
    assert figure.layout.xaxis.tickvals == (-1, 0)
    assert [one.mode for one in clock_figure(clock_question(None)).data] == ["lines", "lines"]


def test_levels_stand_under_their_factor_with_the_reference_at_one():
    group = factor_group(level("family", "A", None), level("family", "<B>", 1.8), level("usage_class", "heavy", 0.5))
    figure = factor_figure(group)
    assert figure.layout.yaxis.ticktext == ("<b>family</b>", "A (20)", "&lt;B&gt; (20)", "<b>usage</b>", "heavy (20)")
    ratios, references, rule = figure.data
    assert (list(rule.x), list(rule.y)) == ([1, 1], list(figure.layout.yaxis.range))
    assert (list(ratios.x), list(ratios.y)) == ([1.8, 0.5], [2, 4])
    assert (list(references.x), list(references.y)) == ([1.0], [1])
    assert {"drifts sooner →", "← drifts later"} <= {one.text for one in figure.layout.annotations}
    assert figure.layout.xaxis.type == "log"


def test_limits_far_out_do_not_squeeze_the_ratios():
    figure = factor_figure(factor_group(level("family", "A", None), level("family", "B", 1.8, is_far=True)))
    assert figure.layout.xaxis.range[1] - figure.layout.xaxis.range[0] < 3


def test_what_a_clean_gives_back_and_how_many_hold_stand_by_depth():
    figure = restoration_figure(answer([restoration_group()], question="restoration", by=[]))
    given, holding = figure.data
    assert (list(given.x), list(holding.x)) == ([0.3, 0.7], [0.4, 0.4])
    assert figure.layout.yaxis.ticktext == ("air on the<br>closed module (80)", "opened and wiped (120)")


def test_rows_that_do_not_fit_the_figure_are_counted():
    groups = [restoration_group() for _ in range(10)]
    assert undrawn_cleans(answer(groups, question="restoration", by=[])) == 2 * 10 - MOST_CLEANS
    assert undrawn_cleans(answer(groups[:2], question="restoration", by=[])) == 0


def test_a_refused_restoration_still_shows_how_many_hold():
    figure = restoration_figure(answer([restoration_group(is_told=False)], question="restoration", by=[]))
    assert [trace.name for trace in figure.data] == ["still good after 90 play hours"]
