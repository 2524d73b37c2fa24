"""The figure of the early alarm draws what the answer says."""

from __future__ import annotations

import pytest

from pipelines.answers.batch_alarm_record import AtAlarm, BatchAlarm, Look, WatchedBatch
from pipelines.charts.batch_alarm import LEAST, MOST_POINTS, batch_alarm_figure, drawn
from pipelines.charts.theme import PRINT
from pipelines.vocabulary import AlarmLevel


def answer(looks: list[Look], **alarms: AtAlarm | None) -> BatchAlarm:
    batch = WatchedBatch(
        batch="<b>A1</b>", supplier=None, part_type=None, is_mixed=False, level=AlarmLevel.WATCH, because=None, sentence="",
        first_fitted_on="2025-01-01", fitted=9, found=5, failures=5, expected=2.0, evidence=1.0, highest_evidence=30.0,
        watch=alarms.get("watch"), stop=alarms.get("stop"), is_beyond_all=False,
    )  # fmt: skip
    return BatchAlarm(
        question="batch-alarm", log_start="2025-01-01", log_end="2025-12-31", settings={}, because=None, sentence="", warnings=[],
        tolerance=1.2, look_days=7, watched_to="2025-12-31", watch_limit=20, stop_limit=100, limit_of_all=40, watched_batches=2,
        false_alarms_at_most=0.1, batches=[batch], shown=batch.batch, looks=looks, replays=[],
    )  # fmt: skip


def test_evidence_stands_over_failures_and_the_day_of_the_alarm_is_marked():
    looks = [Look("2025-01-07", 1.0, 0, 0.2, 3), Look("2025-01-14", 30.0, 4, 1.1, 6), Look("2025-01-21", 0.0001, 5, 2.0, 9)]
    figure = batch_alarm_figure(answer(looks, watch=AtAlarm("2025-01-14", 13, 4, 1.1, 4, 6, 3)), palette=PRINT)
    evidence, watch, dot, stop, found, expected = figure.data
    assert list(evidence.x) == [one.on for one in looks]
    assert list(evidence.y) == [1.0, 30.0, LEAST]
    assert ({*watch.y}, {*stop.y}) == ({20}, {100})
    assert (dot.x[0], dot.y[0]) == ("2025-01-14", 20)
    assert "<b>" not in dot.hovertemplate.split("<extra>")[1]
    assert (list(found.y), list(expected.y)) == ([0, 4, 5], [0.2, 1.1, 2.0])
    assert figure.layout.yaxis.type == "log"
    assert list(figure.layout.yaxis.ticktext) == ["0.01", "0.1", "1", "10", "100"]


def test_of_much_evidence_every_other_power_or_fewer_are_written():
    axis = batch_alarm_figure(answer([Look("2025-01-07", 1.0, 0, 0.2, 3), Look("2025-01-14", 3e25, 90, 1.1, 96)])).layout.yaxis
    assert len(axis.tickvals) <= 10
    assert list(axis.ticktext)[:4] == ["1", "1,000", "10<sup>6</sup>", "10<sup>9</sup>"]


@pytest.mark.parametrize("count", [0, 1, MOST_POINTS, 3 * MOST_POINTS + 1])
def test_a_long_watch_is_thinned_but_for_its_ends(count):
    looks = [Look(str(one), 1.0, 0, 0.0, 0) for one in range(count)]
    shown = drawn(looks)
    assert len(shown) <= MOST_POINTS + 1
    if looks:
        assert (shown[0], shown[-1]) == (looks[0], looks[-1])
