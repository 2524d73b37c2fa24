"""The pictures of a programme and of the months: what they draw, and what they leave out."""

from __future__ import annotations

import pytest

from pipelines.answers import ask
from pipelines.charts.before_after import before_after_figure, has_curves
from pipelines.charts.monthly import drawn, monthly_figure
from tests.pipeline.made_fleet import loaded_fleet


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    with loaded_fleet(1500, 3, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        yield connection


def test_both_sides_are_drawn_as_steps(fleet):
    answer = ask("before-after", fleet, case={"start": "2025-03-01"})
    assert has_curves(answer)
    names = [trace.name for trace in before_after_figure(answer).data if trace.name]
    assert {"before", "after"} <= set(names)
    nobody = ask("before-after", fleet, case={"start": "2025-03-01", "units": "none"})
    assert not has_curves(nobody)


def test_every_month_with_a_limit_has_a_bar_and_the_one_asked_for_stands_out(fleet):
    answer = ask("monthly", fleet)
    before, asked, mean = monthly_figure(answer).data
    assert (mean.name, mean.showlegend, mean.line.dash) == ("mean of the months before", True, "dot")
    assert not before.showlegend
    assert list(asked.x) == [answer.month]
    assert [*before.x, *asked.x] == [one.month for one in drawn(answer)]
    assert asked.y[0] == answer.whole.rate.estimate
    assert asked.y[0] + asked.error_y.array[0] == pytest.approx(answer.history[-1].rate.high)
    assert asked.marker.color != before.marker.color
    # a bar's limits have its colour: the theme's dark and light reach only those
    assert [one.error_y.color for one in (before, asked)] == [one.marker.color for one in (before, asked)]
