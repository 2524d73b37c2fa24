"""Sentences about what groups borrow from each other."""

from __future__ import annotations

from dataclasses import replace

from pipelines.answers.detail import Place
from pipelines.estimates.estimate import Estimate
from pipelines.wording import pooling
from tests.wording.lives_parts import HOURS, POOLED


def test_ranks_have_their_ordinals():
    said = [pooling.place_words(Place(one, one, one, 0.0), 30) for one in (1, 2, 3, 4, 11, 12, 13, 21, 22)]
    assert [one.split()[0] for one in said] == ["1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "22nd"]


def test_a_limit_beyond_a_hundred_years_is_no_number():
    far = replace(POOLED, median=Estimate(9_000.0, 900.0, 7e11))
    assert "half by 9,000 play hours (900 play hours to over 100 years)" in pooling.pooled_sentence(far, HOURS, ranked=2)
