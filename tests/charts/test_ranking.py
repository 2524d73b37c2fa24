"""The figure of a ranking: the best on top, its limits inside, those of few units open and grey."""

from __future__ import annotations

import pandas as pd
import pytest

from pipelines.charts.ranking import MOST_ROWS, ranking_figure, shown, undrawn
from tests.answers.lot_records import USUAL, lots_of, record
from tests.answers.test_family_ranking import bought, ranked


def dots(figure):
    return [trace for trace in figure.data if trace.mode == "markers"]


def test_each_family_has_a_row_with_rank_and_units_and_its_limits():
    answer = ranked()
    figure = ranking_figure(answer)
    (one,) = dots(figure)
    assert list(one.x) == [row.profit_per_unit.estimate for row in answer.families]
    assert [a + b for a, b in zip(one.x, one.error_x.array, strict=True)] == pytest.approx(
        [row.profit_per_unit.high for row in answer.families]
    )
    assert "(80)" in figure.layout.yaxis.ticktext[0]
    assert figure.layout.xaxis.title.text == "profit of a unit at its price, EUR"
    assert not figure.layout.showlegend
    low, high = figure.layout.xaxis.range
    assert low < min(0, *(row.profit_per_unit.low for row in answer.families))
    assert high > max(row.profit_per_unit.high for row in answer.families)


def test_a_family_of_few_units_is_open_and_its_limits_do_not_squeeze_the_others():
    few = lots_of(("<b>Tiny", "untested", "Alder", 1, 0, 0, 0)).assign(lot_id="T")
    lines = bought(("Nolm", 20, 200.0), ("Velm", 20, 240.0), ("<b>Tiny", 3, 3.0))
    figure = ranking_figure(ranked(record(pd.concat([USUAL, few])), lines=lines))
    own, thin = dots(figure)
    assert (len(own.x), len(thin.x), thin.marker.symbol) == (2, 1, "circle-open")
    assert figure.layout.showlegend
    assert "<b>" not in str(figure.layout.yaxis.ticktext)
    assert figure.layout.xaxis.range[0] < thin.x[0] < figure.layout.xaxis.range[1]


def test_what_cannot_be_ranked_is_not_drawn():
    answer = ranked(settings={})
    assert shown(answer) == []
    assert undrawn(answer) == 0
    assert not dots(ranking_figure(answer))


def test_of_very_many_families_the_first_are_drawn():
    names = [f"F{number:02d}" for number in range(MOST_ROWS + 6)]
    many = lots_of(*[(name, "untested", "Alder", 10, 4, 3, 3) for name in names])
    answer = ranked(record(many), lines=bought(*[(name, 20, 200.0) for name in names]))
    assert (len(shown(answer)), undrawn(answer)) == (MOST_ROWS, 6)
