"""The figure of costs by the time between cleans: curve, waiting, what is about as good, and the slot."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.answers.cleaning_interval_record import Harm, IntervalGroup, Restored, Slot, Use
from pipelines.charts.cleaning_cost import cleaning_cost_figure
from pipelines.decisions.cleaning_interval import Costs, Planned, planned_cleaning
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.renewal_cost import Renewal
from pipelines.vocabulary import Clock


def planned(shape: float = 2.5) -> Planned:
    shapes = shape * np.exp(np.random.default_rng(1).normal(0, 0.05, 20))
    return planned_cleaning(
        Renewal(shapes, 500.0, 0.3, 0.3), np.zeros(20), Costs(1.0, 8.0), harm_share=0.0, failures=300, is_best_case=False,
        slots=[200.0],
    )  # fmt: skip


def group_of(found: Planned) -> IntervalGroup:
    nothing = Estimate(0.5, 0.4, 0.6)
    slot = None if found.slot is None else Slot(61.0, found.slot, found.slot_saving, True, 40.0, 90.0)
    return IntervalGroup(
        {"family": "<b>Nolm</b>"}, None, "A sentence.", {}, True, nothing, Restored("open", 10, nothing, False),
        Harm(nothing, 10, False), {}, {"planned": 1.0, "fault": 8.0}, Use(9, 9, 10.0, 20.0, 30.0), found, slot,
    )  # fmt: skip


def test_the_curve_the_band_the_line_of_waiting_and_the_slot_are_drawn():
    found = planned()
    figure = cleaning_cost_figure(group_of(found), clock=Clock.HOURS, currency="EUR")
    traces = {trace.name: trace for trace in figure.data}
    assert set(traces) == {"band", "cleaned on a calendar", "waiting for faults", "kept as"}
    assert list(traces["cleaned on a calendar"].y) == pytest.approx([1000 * one.cost for one in found.curve])
    assert set(traces["waiting for faults"].y) == {1000 * found.waiting.estimate}
    assert list(traces["kept as"].text) == ["every 2 months"]
    (band,) = figure.layout.shapes
    assert (band.x0, band.x1) == found.as_good
    assert "1,000 play hours, EUR" in figure.layout.yaxis.title.text
    assert figure.layout.yaxis.range[1] > 1000 * found.waiting.estimate


def test_where_waiting_costs_least_there_is_no_slot_and_no_range():
    figure = cleaning_cost_figure(group_of(planned(0.8)), clock=Clock.DAYS, currency=None)
    assert {trace.name for trace in figure.data} == {"band", "cleaned on a calendar", "waiting for faults"}
    assert not figure.layout.shapes
    assert "100 days in service" in figure.layout.yaxis.title.text
