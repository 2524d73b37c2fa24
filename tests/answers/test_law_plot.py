"""The probability plot of an answer of one group: its points lie on the curve, its lines on the fitted laws."""

import math
from statistics import NormalDist

import pytest

from pipelines.answers import ask
from pipelines.answers.law_plot import MOST_POINTS
from tests.pipeline.made_fleet import loaded_fleet


@pytest.fixture(scope="module")
def group(tmp_path_factory):
    with loaded_fleet(1500, 3, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        (only,) = ask("time-to-failure", connection).groups
    return only


def test_points_stand_halfway_up_the_steps_of_the_curve(group):
    steps = {point.at: point.surviving_share for point in group.curve}
    ages = list(steps)
    assert group.law_plot.points
    for point in group.law_plot.points:
        before = steps[ages[ages.index(point.at) - 1]]
        assert point.failed_share == pytest.approx(1 - (before + steps[point.at]) / 2)


def test_heights_are_those_on_which_each_law_is_straight(group):
    for point in group.law_plot.points:
        assert point.weibull_height == pytest.approx(math.log(-math.log(1 - point.failed_share)))
        assert point.lognormal_height == pytest.approx(NormalDist().inv_cdf(point.failed_share))


def test_the_lines_are_the_fitted_laws(group):
    shape, scale = group.weibull.shape.estimate, group.weibull.scale.estimate
    lognormal = group.laws.lognormal
    for step in group.law_plot.weibull:
        assert step.height == pytest.approx(shape * (math.log(step.at) - math.log(scale)), abs=1e-6)
    for step in group.law_plot.lognormal:
        expected = (math.log(step.at) - math.log(lognormal.median.estimate)) / lognormal.log_sd.estimate
        assert step.height == pytest.approx(expected, abs=1e-6)


def test_a_line_stands_within_its_limits(group):
    for step in (*group.law_plot.weibull, *group.law_plot.lognormal):
        assert step.low is None or step.low <= step.height
        assert step.high is None or step.height <= step.high


def test_only_what_is_drawn_of_the_curve_has_points_and_no_more_than_can_be_told_apart(group):
    drawn = {point.at for point in group.curve if point.is_drawn}
    assert {point.at for point in group.law_plot.points} <= drawn
    assert len(group.law_plot.points) <= MOST_POINTS


def test_several_groups_have_no_plot(tmp_path):
    with loaded_fleet(300, 3, tmp_path, easy=False) as (_, connection):
        assert all(one.law_plot is None for one in ask("time-to-failure", connection, by=["family"]).groups)
