"""Lives of an assumed shape: the exponential closed form, coverage, and what few or no failures give."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.fixed_shape import fixed_shape
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table, visited

HEAD = "entry lower upper spell_count\n"


def numbers(fit, *, factor: float = 1.0) -> list:
    return [
        None if value is None else value / factor
        for life in (fit.life, *fit.others)
        for one in (life.scale, life.b10, life.median)
        for value in (one.estimate, one.low, one.high)
    ]


def test_shape_one_is_the_exponential_closed_form():
    # 4 failures in 4,000 unit hours: mean 1,000 h; the limits of a Poisson count of 4 are 1.08987 and 10.24159 (any table).
    (fit,) = fixed_shape(table(HEAD + "0 500 500 2\n200 700 700 2\n0 1000 inf 2"), by=[], shape=1)
    assert (fit.spells, fit.failures, fit.between, fit.is_one_sided) == (6, 4, 0, False)
    scale = fit.life.scale
    assert (scale.estimate, scale.low, scale.high) == pytest.approx((1000, 4000 / 10.24159, 4000 / 1.08987), rel=1e-5)
    assert (scale.because, fit.life.b10.because, fit.because) == (None, None, None)
    assert fit.life.b10.estimate == pytest.approx(1000 * -np.log(0.9))
    assert fit.life.median.high == pytest.approx(4000 / 1.08987 * np.log(2), rel=1e-5)


def test_a_single_failure_has_two_limits():
    # The limits of a Poisson count of 1 are 0.02532 and 5.57164 (any table).
    (fit,) = fixed_shape(table(HEAD + "0 500 500 1\n0 250 inf 2"), by=[], shape=1)
    scale = fit.life.scale
    assert (scale.estimate, scale.low, scale.high) == pytest.approx((1000, 1000 / 5.57164, 1000 / 0.025318), rel=1e-5)
    assert (fit.is_one_sided, scale.because) == (False, None)


def test_no_failure_gives_one_sided_lower_limits_and_nothing_else():
    # The rule of three: -ln(0.05) = 2.9957 at 95 %.
    (fit,) = fixed_shape(table(HEAD + "0 400 inf 10"), by=[], shape=1)
    assert fit.is_one_sided
    assert fit.because is Because.NO_FAILURES
    for estimate, hazard in ((fit.life.scale, 1), (fit.life.b10, -np.log(0.9)), (fit.life.median, np.log(2))):
        assert (estimate.estimate, estimate.high, estimate.because) == (None, None, Because.NO_FAILURES)
        assert estimate.low == pytest.approx(4000 / 2.995732 * hazard, rel=1e-6)


def test_the_shape_that_the_fit_finds_gives_the_scale_that_the_fit_finds():
    spells = random_spells(3, spells=300)
    (free,) = weibull(spells, by=[])
    (fit,) = fixed_shape(spells, by=[], shape=free.shape.estimate)
    assert fit.life.scale.estimate == pytest.approx(free.scale.estimate, rel=1e-9)
    assert fit.life.b10.estimate == pytest.approx(free.b10.estimate, rel=1e-9)


def test_two_other_shapes_stand_beside_it():
    spells = random_spells(4, spells=40)
    for shape, others in ((2, [1.5, 2.5]), (0.8, [0.5, 1.3]), (0.5, [1.0]), (0.3, [0.5, 0.8])):
        (fit,) = fixed_shape(spells, by=[], shape=shape)
        assert [one.shape for one in fit.others] == pytest.approx(others)
        for one in fit.others:
            (alone,) = fixed_shape(spells, by=[], shape=one.shape)
            assert alone.life == one


def test_a_failure_between_visits_counts_at_the_middle_and_is_counted():
    (fit,) = fixed_shape(table(HEAD + "0 100 300 2\n0 500 inf 3"), by=[], shape=2)
    (middle,) = fixed_shape(table(HEAD + "0 200 200 2\n0 500 inf 3"), by=[], shape=2)
    assert (fit.between, middle.between) == (2, 0)
    assert fit.life == middle.life


@pytest.mark.parametrize("factor", [1e-6, 24, 1e6])
def test_permuted_rows_rescaled_time_and_counts_give_the_same(factor):
    spells = visited(random_spells(5, spells=200, groups=3, is_whole=True), every=50.0)
    keys = ["group", "entry", "lower", "upper"]
    cells = spells.groupby(keys, as_index=False)["spell_count"].sum().sample(frac=1, random_state=1)
    cells[keys[1:]] *= factor
    for one, other in zip(
        fixed_shape(spells, by=["group"], shape=1.7), fixed_shape(cells, by=["group"], shape=1.7), strict=True
    ):  # fmt: skip
        assert (other.by, other.spells, other.failures, other.between) == (one.by, one.spells, one.failures, one.between)
        assert numbers(other, factor=factor) == pytest.approx(numbers(one), rel=1e-9)
    entries = spells[spells["entry"] > 0].groupby(["group", "entry"], as_index=False)["spell_count"].sum()
    apart = fixed_shape(spells.drop(columns="entry"), by=["group"], shape=1.7, entries=entries)
    for one, other in zip(fixed_shape(spells, by=["group"], shape=1.7), apart, strict=True):
        assert numbers(other) == pytest.approx(numbers(one), rel=1e-9)


def test_what_cannot_be_is_refused_in_words():
    good = table(HEAD + "0 300 300 9")
    for shape in (0, -1, np.nan, np.inf, 0.09, 20.1):
        with pytest.raises(InputError, match="shape"):
            fixed_shape(good, by=[], shape=shape)
    with pytest.raises(InputError, match="enters at or after"):
        fixed_shape(table(HEAD + "300 300 300 9"), by=[], shape=2)
    for entry, count in ((290.0, 50), (300.0, 9)):
        late = pd.DataFrame({"entry": [entry], "spell_count": [count]})
        with pytest.raises(InputError, match="More spells end than ever entered"):
            fixed_shape(good.drop(columns="entry"), by=[], shape=2, entries=late)
    assert fixed_shape(good.iloc[:0], by=[], shape=2) == []


def test_one_unit_all_at_once_and_a_thousand_groups_have_their_lives():
    (fit,) = fixed_shape(table(HEAD + "0 300 300 1"), by=[], shape=2)
    assert fit.life.scale.estimate == pytest.approx(300)
    assert fit.life.scale.low < 300 < fit.life.scale.high
    (fit,) = fixed_shape(table(HEAD + "0 300 300 9"), by=[], shape=2)
    assert fit.life.scale.estimate == pytest.approx(300)
    many = pd.DataFrame({"fleet": range(1000), "entry": 0.0, "lower": 50.0, "upper": np.inf, "spell_count": 1})
    assert all(fit.is_one_sided for fit in fixed_shape(many, by=["fleet"], shape=2))


@pytest.mark.parametrize("hours", [300.0, 500.0])
def test_the_limits_cover_the_truth_at_least_as_often_as_they_say(hours):
    # 2,000 fleets of 20, shape 2 and scale 1,000, watched for some hours: about 1.7 and 4.4 failures each.
    rng = np.random.default_rng(8)
    life = 1000 * rng.weibull(2.0, (2000, 20))
    end = np.minimum(life, hours)
    spells = pd.DataFrame({"fleet": np.repeat(np.arange(2000), 20), "entry": 0.0, "lower": end.ravel(), "spell_count": 1})
    spells["upper"] = np.where(life <= hours, end, np.inf).ravel()
    lives = [fit.life.scale for fit in fixed_shape(spells, by=["fleet"], shape=2)]
    covered = np.mean([one.low <= 1000 <= (one.high or np.inf) for one in lives])
    assert covered >= 0.945


@settings(deadline=None, max_examples=100)
@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(1, 6), st.integers(0, 3), st.integers(1, 9)), min_size=1, max_size=8),
    st.floats(0.1, 20),
)
def test_any_small_record_gives_lives_or_a_reason(rows, shape):
    spells = pd.DataFrame(rows, columns=["entry", "length", "width", "spell_count"])
    spells["lower"] = spells["entry"] + spells["length"]
    spells["upper"] = np.where(spells["width"] == 3, np.inf, spells["lower"] + spells["width"])
    (fit,) = fixed_shape(spells, by=[], shape=shape)
    for life in (fit.life, *fit.others):
        for one in (life.scale, life.b10, life.median):
            assert 0 < one.low < np.inf
            if not fit.is_one_sided:
                assert one.low < one.estimate < one.high < np.inf
