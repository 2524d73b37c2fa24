"""The figures of incoming inspection."""

from __future__ import annotations

import pytest

from pipelines.answers.batch_inspection_record import Chart, ChartPoint, FieldBatch, FieldPart
from pipelines.answers.inspection_plan import case_of, plan_told, plans_of
from pipelines.charts.batch_inspection import chart_figure, field_figure, plan_figure
from pipelines.estimates.acceptance import Plan
from pipelines.estimates.estimate import Estimate
from pipelines.vocabulary import Because

SHARES = (0.02, 0.3, 0.0)


def test_batches_stand_over_their_days_and_those_outside_are_filled():
    points = [ChartPoint(f"B-{one}<b>", f"2025-01-0{one + 1}", share, 0.0, 0.2, share > 0.2) for one, share in enumerate(SHARES)]
    low, high, middle, within, outside = chart_figure(Chart("S", "offset", None, 0.1, 0.05, ["B-1"], None, points)).data
    assert (list(low.y), list(high.y), list(middle.y)) == ([0.0] * 3, [0.2] * 3, [0.1] * 3)
    assert (list(within.y), list(outside.y)) == ([0.02, 0.0], [0.3])
    assert outside.customdata[0].startswith("B-1&lt;b&gt;")
    assert (within.marker.symbol, outside.marker.symbol) == ("circle-open", "circle")


def test_operating_curves_fall_and_the_agreed_limit_and_twice_it_are_marked():
    case = case_of({"lot": "400", "aql": "1.5", "bad_pct": "8"}, [], [])
    plans = [*plans_of(case), plan_told(None, case, origin="iso_2859_1", aql_pct=1.5, letter="F")]
    *curves, agreed, twice = plan_figure(plans).data
    assert len(curves) == 2
    for curve in curves:
        assert list(curve.y) == sorted(curve.y, reverse=True)
        assert curve.y[0] == 1
    assert (agreed.x[0], twice.x[0]) == pytest.approx((0.015, 0.03))


def test_a_share_that_should_pass_is_not_called_agreed():
    told = plan_told(Plan(224, 2), case_of({}, [], []), origin="two_points", aql_pct=0.5)
    assert [one.name.replace("\u00a0", " ") for one in plan_figure([told]).data[1:]] == ["should pass: 0.5 %", "twice that"]


def test_without_an_agreed_limit_no_line_is_drawn():
    case = case_of({}, [], [])
    assert len(plan_figure([plan_told(Plan(8, 1), case, origin="used", aql_pct=None)]).data) == 1


def test_a_batch_in_the_field_stands_at_its_share_and_its_faults_over_those_expected():
    batches = [FieldBatch("B-1", 1, 40, 12, 8.0), FieldBatch("B-2", 0, 40, 3, 2.0)]
    part = FieldPart("offset", Because.TOO_FEW_BATCHES, Estimate.refused(Because.TOO_FEW_BATCHES), None, None, 0, batches)
    dots, _ = field_figure(part).data
    assert (list(dots.x), list(dots.y)) == ([0.025, 0.0], [1.5, 1.5])
    assert dots.marker.size[0] > dots.marker.size[1]
