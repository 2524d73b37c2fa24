"""The figures of what kind of worse a batch is."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.charts.batch_pattern import difference_figure, excess_figure, mechanism_figure, pair_figure
from tests.answers.logs import EXACT
from tests.answers.patterned_batches import patterned_log


@pytest.fixture(scope="module")
def answer(tmp_path_factory):
    log = patterned_log(tmp_path_factory.mktemp("crossing"), shape=6.0, scale=190, size=120, others=300)
    with warehouse.reading(log.path) as connection:
        return ask("batch-pattern", connection, clock="days", case={"batch": "ODD"}, settings=EXACT)


def test_both_curves_are_drawn_from_the_start_with_those_at_risk(answer):
    figure = pair_figure(answer)
    named = {one.name: one for one in figure.data if one.showlegend}
    assert set(named) == {"ODD", "others alike"}
    assert (named["ODD"].x[0], named["ODD"].y[0]) == (0, 1)
    assert named["ODD"].y[-1] == answer.curves.points[-1].batch
    assert len([one for one in figure.data if one.mode == "text"]) == 2


def test_the_difference_stands_over_its_band_and_both_crossings_are_marked(answer):
    figure, points = difference_figure(answer), answer.curves.points
    line = next(one for one in figure.data if one.customdata is not None)
    assert list(line.y) == [-one.difference for one in points]
    low, high = ([one.y for one in figure.data if one.legendgroup == "at that age"][place] for place in (0, 1))
    assert (np.array(low) <= line.y).all()
    assert (np.array(high) >= line.y).all()
    marks = [one.x[0] for one in figure.data if one.line.dash == "dot" and one.x[0] == one.x[-1]]
    assert marks == [answer.pattern.curves_cross.estimate, answer.pattern.rates_cross.estimate]
    assert len({one.fillcolor for one in figure.data if one.showlegend}) == 2


def test_the_excess_has_a_row_a_mechanism_and_zero_marked(answer):
    figure, rows = excess_figure(answer), answer.mechanisms.rows
    dots = {(x, y) for one in figure.data if one.mode == "markers" for x, y in zip(one.x, one.y, strict=True)}
    assert dots == {(row.excess.estimate, place) for place, row in enumerate(rows)}
    assert len(figure.layout.yaxis.ticktext) == len(rows)
    shares = mechanism_figure(answer, rows[0])
    named = {one.name: one.y[-1] for one in shares.data if one.showlegend}
    assert named == {"ODD": rows[0].curve[-1].failed_share, "others alike": rows[0].rest_curve[-1].failed_share}
