"""Probability plots: plotting positions by hand, straight lines, bands against the fits, and plots of little."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.lognormal import lognormal
from pipelines.estimates.probability_plot import lognormal_height, probability_plot, weibull_height
from pipelines.estimates.survival import drawn, survival
from pipelines.estimates.turnbull import turnbull
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table, visited

HEAD = "entry at is_failure lower upper spell_count\n"


def plotted(spells: pd.DataFrame, **options):
    return probability_plot(survival(spells, by=[]), spells, **options)


def test_complete_lives_stand_halfway_up_their_steps():
    # n complete lives stand at (i − 1/2) / n, Hazen's positions.
    spells = table(HEAD + "\n".join(f"0 {at} True {at} {at} 1" for at in (100, 200, 300, 400, 500)))
    points = plotted(spells, min_failures=3).points
    assert points["at"].tolist() == [100, 200, 300, 400, 500]
    assert points["failed_share"].tolist() == pytest.approx([0.1, 0.3, 0.5, 0.7, 0.9])
    assert points["log_at"].tolist() == pytest.approx(np.log(points["at"]))
    assert points["lognormal_height"].tolist() == pytest.approx([-1.2815516, -0.5244005, 0, 0.5244005, 1.2815516])
    assert points["weibull_height"].tolist() == pytest.approx(np.log(-np.log(1 - points["failed_share"])))


def test_ties_and_censored_lives_stand_halfway_up_the_steps_of_the_curve():
    spells = table(HEAD + "0 100 True 100 100 2\n0 150 False 150 inf 2\n0 200 True 200 200 1\n0 300 False 300 inf 3")
    points = plotted(spells).points
    # The curve: 1 → 6/8 at 100 → 6/8 · 3/4 at 200.
    assert points["failed_share"].tolist() == pytest.approx([1 / 8, 1 - (3 / 4 + 9 / 16) / 2])


def test_intervals_stand_in_their_middle_and_what_fails_after_the_last_visit_has_no_point():
    spells = table("entry lower upper spell_count\n0 0 100 2\n0 100 200 3\n0 200 inf 5")
    curve = table("from_at to_at surviving_share\n0 100 0.8\n100 200 0.5\n200 inf 0.0")
    points = probability_plot(curve, spells, min_failures=3).points
    assert points["at"].tolist() == [50, 150]
    assert points["failed_share"].tolist() == pytest.approx([0.1, 0.35])


def test_the_points_of_failures_between_visits_follow_the_line():
    spells = visited(random_spells(14, spells=500, late_share=0.0), every=100.0)
    plot = probability_plot(turnbull(spells, by=[]), spells)
    line = plot.weibull.line
    middle = plot.points[(plot.points["failed_share"] > 0.1) & (plot.points["failed_share"] < 0.9)]
    assert len(middle) >= 5
    on_line = np.interp(middle["log_at"], line["log_at"], line["height"])
    assert middle["weibull_height"].to_numpy() == pytest.approx(on_line, abs=0.35)


def test_a_group_without_failures_between_visits_has_no_points():
    spells = table("entry lower upper spell_count\n0 500 inf 40")
    plot = probability_plot(pd.DataFrame(columns=["from_at", "to_at", "surviving_share", "given_at"]), spells)
    assert plot.points.empty
    assert plot.lognormal.because is Because.NO_FAILURES


@pytest.mark.parametrize("every", [None, 120.0])
def test_the_lines_are_straight_and_carry_the_limits_of_the_fits(every):
    spells = random_spells(9, spells=80)
    visits = spells if every is None else visited(spells, every=every)
    plot = probability_plot(survival(spells, by=[]), visits)
    for fitted, found in ((weibull, plot.weibull), (lognormal, plot.lognormal)):
        assert found.because is None
        line = found.line
        assert 2 <= len(line) <= 60
        assert (line["at"].iloc[0], line["at"].iloc[-1]) == pytest.approx((plot.points["at"].iloc[0], spells["at"].max()))
        slopes = np.diff(line["height"]) / np.diff(line["log_at"])
        assert slopes == pytest.approx(np.full(len(line) - 1, slopes.mean()), rel=1e-6)
        (fit,) = fitted(visits, by=[], ages=line["at"].tolist())
        for column, name in (("failed_share", "estimate"), ("low", "high"), ("high", "low")):
            assert line[column].tolist() == pytest.approx([1 - getattr(one, name) for one in fit.surviving], abs=1e-9)
    high, share = plot.weibull.line["height_high"], plot.weibull.line["high"]
    assert weibull_height(share[share < 0.999]) == pytest.approx(high[share < 0.999].to_numpy(), abs=1e-6)
    low, share = plot.lognormal.line["height_low"], plot.lognormal.line["low"]
    assert lognormal_height(share) == pytest.approx(low.to_numpy(), abs=1e-6)


def test_most_points_of_the_true_law_lie_within_its_band():
    spells = random_spells(10, spells=400)
    plot = plotted(spells)
    line = plot.weibull.line
    low, high = (np.interp(plot.points["log_at"], line["log_at"], line[name]) for name in ("height_low", "height_high"))
    is_inside = (low <= plot.points["weibull_height"]) & (plot.points["weibull_height"] <= high)
    assert is_inside.mean() > 0.7


def test_the_points_of_a_curve_that_holds_from_an_age_on_lie_where_those_of_the_whole_curve_do():
    # The whole curve of lives of a known law, and the same from 400 h on: the heights agree but for what the fit is off.
    spells = random_spells(13, spells=4000, late_share=0.0)
    curve = survival(spells, by=[])
    reached = curve.loc[curve["at"] <= 400, "surviving_share"].iloc[-1]
    later = curve[curve["at"] > 400]
    later = later.assign(surviving_share=later["surviving_share"] / reached, given_at=400.0)
    whole, part = (probability_plot(one, spells) for one in (curve, later))
    assert (whole.weibull.given_share, part.weibull.given_share) == pytest.approx((1, reached), abs=0.02)
    both = whole.points.merge(part.points, on="at", suffixes=("", "_part"))
    assert len(both) == len(part.points) > 100
    assert both["weibull_height_part"].to_numpy() == pytest.approx(both["weibull_height"].to_numpy(), abs=0.06)
    assert part.weibull.line["height"].iloc[-1] == pytest.approx(whole.weibull.line["height"].iloc[-1])


def test_what_is_drawn_comes_along():
    spells = random_spells(11, spells=200)
    curve = drawn(survival(spells, by=[]), spell_count=len(spells)).curve
    points = probability_plot(curve, spells).points
    assert 0 < points["is_drawn"].sum() < len(points)


def test_the_unit_of_time_changes_only_the_ages():
    spells = random_spells(12, spells=60)
    scaled = spells.assign(**{one: spells[one] / 24 for one in ("entry", "at", "lower", "upper")})
    for one, other in ((plotted(spells).weibull.line, plotted(scaled).weibull.line),):
        assert other["at"].tolist() == pytest.approx(one["at"] / 24)
        for name in ("height", "height_low", "height_high", "low", "high"):
            assert other[name].tolist() == pytest.approx(one[name].tolist(), rel=1e-7)


@pytest.mark.parametrize(
    ("rows", "because", "points"),
    [
        ("0 500 False 500 inf 40", Because.NO_FAILURES, 0),
        ("0 300 True 300 300 1\n0 500 False 500 inf 40", Because.TOO_FEW_FAILURES, 1),
        ("0 300 True 300 300 9", Because.FIT_FAILED, 1),
    ],
)
def test_without_a_fit_there_are_points_and_a_reason(rows, because, points):
    plot = plotted(table(HEAD + rows))
    assert len(plot.points) == points
    for found in (plot.weibull, plot.lognormal):
        assert found.because is because
        assert found.line.empty
        assert "height_low" in found.line


def test_nothing_watched_is_a_reason_and_a_rising_curve_is_refused():
    empty = table(HEAD + "0 300 True 300 300 9").iloc[:0]
    assert plotted(empty).weibull.because is Because.NO_SPELLS
    with pytest.raises(InputError, match="rises"):
        probability_plot(table("at surviving_share\n0 1\n100 0.5\n200 0.7"), empty)
    with pytest.raises(InputError, match="surviving_share"):
        probability_plot(table("at\n100"), empty)
