"""The figures of the bench: a bar a course in order of its cost, and each tenth of the cleans by its chance."""

from __future__ import annotations

import pytest

from pipelines.answers.clean_or_replace import advise, calibration
from pipelines.charts.courses import course_bars, course_figure
from pipelines.charts.reliability import reliability_figure
from pipelines.charts.theme import FAINT, PRINT, SCREEN
from tests.answers.test_bench_case import bench_case
from tests.answers.test_clean_or_replace import ALL, CASE
from tests.pipeline.made_fleet import loaded_fleet


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    from pipelines.answers.bench_record import bench_record

    with loaded_fleet(3000, 4, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        yield bench_record(connection, ALL)


@pytest.fixture(scope="module")
def answer(record):
    return advise(record, [bench_case(CASE, record.families)], ALL)[0]


def test_each_course_is_a_bar_and_only_the_advised_one_has_the_full_colour(answer):
    bars = course_bars(answer)
    assert [bar.cost for bar in bars] == sorted(bar.cost for bar in bars)
    assert {bar.course for bar in bars} == {"clean_first", "new_part", "scrap"}
    assert bars[0].is_advised
    (trace,) = course_figure(answer).data
    assert list(trace.x) == [bar.cost for bar in bars]
    assert [color.endswith(FAINT) for color in trace.marker.color] == [not bar.is_advised for bar in bars]


def test_an_answer_without_costs_has_no_bar(record):
    from pipelines.settings import Settings

    refused = advise(record, [bench_case(CASE, record.families)], Settings())[0]
    assert not course_bars(refused)
    (trace,) = course_figure(refused).data
    assert len(trace.x) == 0


def test_the_bands_stand_at_their_chance_and_share_with_their_limits(record):
    found = calibration(record)
    line, dots = reliability_figure(found).data
    assert (list(line.x), list(line.y)) == ([0, 1], [0, 1])
    assert list(dots.x) == [one.chance for one in found.bands]
    assert list(dots.y) == [one.share for one in found.bands]
    assert [value + up for value, up in zip(dots.y, dots.error_y.array, strict=True)] == pytest.approx(
        [one.high for one in found.bands]
    )
    assert "passed" in dots.customdata[0]


@pytest.mark.parametrize("palette", [SCREEN, PRINT])
def test_both_palettes_serve(record, answer, palette):
    assert course_figure(answer, palette=palette).layout.font.color == palette.ink
    assert reliability_figure(calibration(record), palette=palette).layout.font.color == palette.ink
