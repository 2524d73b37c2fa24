"""The figures of the study of the tester."""

from __future__ import annotations

import pytest

from pipelines.charts.tester_study import SHOWN, parts_figure, pass_figure
from pipelines.wording.tester_study import part_words
from tests.answers.repeat_studies import ask, manual_log


@pytest.fixture(scope="module")
def manual(tmp_path_factory):
    return manual_log(tmp_path_factory.mktemp("manual"))


def test_the_parts_stand_with_their_limits_the_sticks_in_grey(manual):
    answer = ask(manual)
    figure, sd = parts_figure(answer), {one.name: one.sd for one in answer.components}
    tester, sticks = figure.data
    assert list(tester.x) == [sd[name].estimate for name in SHOWN[:3]]
    assert tester.error_x.array == pytest.approx([sd[name].high - sd[name].estimate for name in SHOWN[:3]])
    assert list(sticks.x) == [sd["stick"].estimate]
    assert len(figure.layout.yaxis.ticktext) == len(SHOWN)
    assert figure.layout.yaxis.ticktext[0].replace("<br>", " ") == part_words("repeat")


def test_the_chance_to_pass_falls_through_half_at_the_limit(manual):
    answer = ask(manual)
    low, high, chance, sharp = pass_figure(answer).data
    assert list(chance.y) == sorted(chance.y, reverse=True)
    assert chance.y[len(chance.y) // 2] == pytest.approx(0.5)
    assert all(one <= middle <= other for one, middle, other in zip(low.y, chance.y, high.y, strict=True))
    assert list(sharp.x)[1:3] == [answer.case.limit] * 2
