"""Weibull fits from counts: against lifelines on rows, against the likelihood itself, and where there is no fit."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table, visited

QUANTITIES = ("shape", "scale", "b10", "median")


def numbers(fit, *, factor: float = 1.0) -> list[float]:
    """Return all estimates and limits, times divided by the factor."""
    divisors = [1.0, factor, factor, factor]
    return [
        value / divisor
        for name, divisor in zip(QUANTITIES, divisors, strict=True)
        for value in (getattr(fit, name).estimate, getattr(fit, name).low, getattr(fit, name).high)
    ]


def log_likelihood(spells: pd.DataFrame, shape: float, scale: float) -> float:
    """The likelihood spell by spell, straight from its definition: densities and probabilities given the entry."""
    entry, lower, upper = ((spells[name].to_numpy(dtype=float) / scale) ** shape for name in ("entry", "lower", "upper"))
    is_exact, is_well = lower == upper, np.isinf(upper)
    density = np.log(shape / scale) + (shape - 1) * np.log(np.maximum(spells["lower"] / scale, 1e-300)) - lower
    between = np.log(np.maximum(np.exp(-lower) - np.exp(-upper), 1e-300))
    terms = np.where(is_exact, density, np.where(is_well, -lower, between)) + entry
    return float((spells["spell_count"] * terms).sum())


@pytest.mark.parametrize("late_share", [0.0, 0.3])
def test_counts_give_the_numbers_of_lifelines_on_rows(late_share):
    spells = random_spells(11, spells=900, groups=3, late_share=late_share, is_whole=True)
    cells = spells.groupby(["group", "entry", "lower", "upper"], as_index=False)["spell_count"].sum()
    assert len(cells) < len(spells)
    for fit in weibull(cells, by=["group"]):
        rows = spells[spells["group"] == fit.by[0]]
        theirs = lifelines.WeibullFitter().fit(rows["at"], rows["is_failure"], entry=rows["entry"])
        assert (fit.shape.estimate, fit.scale.estimate) == pytest.approx((theirs.rho_, theirs.lambda_), rel=1e-5)
        assert fit.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-8)
        assert (fit.spells, fit.failures) == (len(rows), rows["is_failure"].sum())


def test_intervals_with_late_entry_give_the_numbers_of_lifelines_from_a_good_start():
    # lifelines runs away from its own start here, without a word, so it is given one.
    spells = visited(random_spells(12, spells=400, late_share=0.5), every=150.0)
    fit = weibull(spells, by=[])[0]
    theirs = lifelines.WeibullFitter().fit_interval_censoring(
        spells["lower"], spells["upper"], entry=spells["entry"], initial_point=np.array([900.0, 1.5])
    )
    assert (fit.shape.estimate, fit.scale.estimate) == pytest.approx((theirs.rho_, theirs.lambda_), rel=1e-5)


KINDS = {
    "exact": random_spells(21, spells=60, late_share=0.0),
    "exact and late": random_spells(22, spells=60),
    "visited": visited(random_spells(23, spells=60, late_share=0.0), every=200.0),
    "visited and late": visited(random_spells(24, spells=60), every=120.0),
    "heavily censored": random_spells(25, spells=60, shape=3.0).assign(
        upper=lambda frame: np.where(frame["at"] < 400, frame["upper"], np.inf)
    ),
    "many": random_spells(26, spells=3000),
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_fit_is_the_top_of_the_likelihood_and_the_limits_lie_where_it_has_dropped_by_the_quantile(kind):
    # Half the 95 % quantile of chi-squared with one degree of freedom, 3.8415 in any table.
    from scipy.optimize import minimize_scalar

    spells = KINDS[kind]
    fit = weibull(spells, by=[])[0]
    top = log_likelihood(spells, fit.shape.estimate, fit.scale.estimate)
    assert fit.log_likelihood == pytest.approx(top, rel=1e-9)
    for turn in (0.99, 1.01):
        assert log_likelihood(spells, fit.shape.estimate * turn, fit.scale.estimate) < top
        assert log_likelihood(spells, fit.shape.estimate, fit.scale.estimate * turn) < top

    def best_given_shape(shape: float) -> float:
        return -minimize_scalar(
            lambda log_scale: -log_likelihood(spells, shape, np.exp(log_scale)),
            bounds=np.log(fit.scale.estimate) + np.array([-6, 6]), method="bounded", options={"xatol": 1e-10},
        ).fun  # fmt: skip

    def best_given_time(time: float, hazard: float) -> float:
        return -minimize_scalar(
            lambda log_shape: -log_likelihood(spells, np.exp(log_shape), time * hazard ** -np.exp(-log_shape)),
            bounds=np.log(fit.shape.estimate) + np.array([-2, 1.5]), method="bounded", options={"xatol": 1e-10},
        ).fun  # fmt: skip

    for limit in (fit.shape.low, fit.shape.high):
        assert top - best_given_shape(limit) == pytest.approx(3.841458820694124 / 2, abs=1e-4)
    for name, hazard in (("scale", 1.0), ("b10", -np.log(0.9)), ("median", np.log(2))):
        estimate = getattr(fit, name)
        assert estimate.low < estimate.estimate < estimate.high
        for limit in (estimate.low, estimate.high):
            assert top - best_given_time(limit, hazard) == pytest.approx(3.841458820694124 / 2, abs=1e-4), name


@pytest.mark.parametrize("kind", KINDS)
def test_the_share_surviving_an_age_has_limits_where_the_profile_has_dropped_by_the_quantile(kind):
    from scipy.optimize import minimize_scalar

    spells, ages = KINDS[kind], (40.0, 500.0, 2500.0)
    (fit,) = weibull(spells, by=[], ages=ages)
    for age, estimate in zip(ages, fit.surviving, strict=True):
        assert estimate.estimate == pytest.approx(np.exp(-((age / fit.scale.estimate) ** fit.shape.estimate)), rel=1e-9)
        assert estimate.low < estimate.estimate < estimate.high
        for limit in (estimate.low, estimate.high):
            hazard = -np.log(limit)
            profile = -minimize_scalar(
                lambda log_shape, age=age, hazard=hazard: -log_likelihood(
                    spells, np.exp(log_shape), age * hazard ** -np.exp(-log_shape)
                ),
                bounds=np.log(fit.shape.estimate) + np.array([-2, 1.5]), method="bounded", options={"xatol": 1e-10},
            ).fun  # fmt: skip
            assert fit.log_likelihood - profile == pytest.approx(3.841458820694124 / 2, abs=1e-4)


def test_the_limits_of_a_share_and_of_the_age_at_which_it_is_left_are_two_sides_of_one():
    # Where 10 % may have failed at the earliest, 90 % may survive at the least.
    (fit,) = weibull(KINDS["visited and late"], by=[])
    (other,) = weibull(KINDS["visited and late"], by=[], ages=[fit.b10.low, fit.b10.estimate, fit.b10.high])
    assert [other.surviving[0].low, other.surviving[1].estimate, other.surviving[2].high] == pytest.approx([0.9] * 3)


def test_an_age_that_is_none_is_refused_and_without_a_fit_each_age_has_its_reason():
    for age in (0.0, -1.0, np.inf, np.nan):
        with pytest.raises(InputError, match="age"):
            weibull(KINDS["exact"], by=[], ages=[age])
    (fit,) = weibull(KINDS["exact"], by=[], ages=[100.0, 200.0], min_failures=1000)
    assert [one.because for one in fit.surviving] == [Because.TOO_FEW_FAILURES] * 2
    (fit,) = weibull(KINDS["exact"], by=[], ages=[1e-3, 1e9])
    assert fit.surviving[0].estimate == pytest.approx(1)
    assert 0 < fit.surviving[1].estimate < 1e-200


def test_b10_and_median_lie_on_the_fitted_curve():
    fit = weibull(KINDS["exact"], by=[])[0]
    for estimate, share in ((fit.b10, 0.9), (fit.median, 0.5)):
        assert np.exp(-((estimate.estimate / fit.scale.estimate) ** fit.shape.estimate)) == pytest.approx(share)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("factor", [1e-6, 1 / 24, 1e6])
def test_rescaled_time_gives_rescaled_numbers(kind, factor):
    spells = KINDS[kind]
    times = ["entry", "lower", "upper"]
    one = weibull(spells, by=[])[0]
    other = weibull(spells.assign(**{name: spells[name] * factor for name in times}), by=[])[0]
    assert numbers(other, factor=factor) == pytest.approx(numbers(one), rel=1e-9)
    # Densities of exact failures change with the unit, probabilities do not.
    exact = (spells["lower"] == spells["upper"]).sum()
    assert other.log_likelihood == pytest.approx(one.log_likelihood - exact * np.log(factor), rel=1e-9)


def test_permuted_rows_and_other_groups_beside_it_change_nothing():
    spells = visited(random_spells(31, spells=400, groups=4), every=90.0)
    together = weibull(spells, by=["group"])
    shuffled = weibull(spells.sample(frac=1, random_state=3), by=["group"])
    for one, other in zip(together, shuffled, strict=True):
        alone = weibull(spells[spells["group"] == one.by[0]], by=["group"])[0]
        assert numbers(other) == pytest.approx(numbers(one), rel=1e-9)
        assert numbers(alone) == pytest.approx(numbers(one), rel=1e-9)


def test_late_entries_may_be_counted_apart():
    spells = visited(random_spells(32, spells=300, groups=2, is_whole=True), every=50.0)
    entries = spells[spells["entry"] > 0].groupby(["group", "entry"], as_index=False)["spell_count"].sum()
    apart = weibull(spells.drop(columns="entry"), by=["group"], entries=entries)
    for one, other in zip(weibull(spells, by=["group"]), apart, strict=True):
        assert numbers(other) == pytest.approx(numbers(one), rel=1e-9)


def test_a_narrow_interval_is_as_good_as_an_exact_failure():
    exact = KINDS["exact"]
    is_failure = np.isfinite(exact["upper"])
    narrow = exact.assign(lower=np.where(is_failure, exact["at"] - 1e-4, exact["at"]))
    assert numbers(weibull(narrow, by=[])[0]) == pytest.approx(numbers(weibull(exact, by=[])[0]), rel=1e-5)


def test_a_wider_level_gives_wider_limits():
    narrow, wide = (weibull(KINDS["visited and late"], by=[], level=level)[0] for level in (0.8, 0.99))
    for name in QUANTITIES:
        assert getattr(wide, name).low < getattr(narrow, name).low < getattr(narrow, name).high < getattr(wide, name).high


@pytest.mark.parametrize("seed", range(8))
def test_the_known_truth_of_a_large_fleet_lies_near_its_limits(seed):
    spells = visited(random_spells(100 + seed, spells=2000, late_share=0.5, censor_every=100.0), every=100.0)
    fit = weibull(spells, by=[], level=0.999)[0]
    assert fit.shape.low < 1.8 < fit.shape.high
    assert fit.scale.low < 800 < fit.scale.high


HEAD = "entry lower upper spell_count\n"


@pytest.mark.parametrize(
    ("rows", "because"),
    [
        ("0 500 inf 40", Because.NO_FAILURES),
        ("0 300 300 1\n0 500 inf 40", Because.TOO_FEW_FAILURES),
        ("0 300 300 5", Because.TOO_FEW_FAILURES),
        ("0 300 300 9", Because.FIT_FAILED),
        ("0 300 300 9\n0 200 inf 9", Because.FIT_FAILED),
        ("0 100 200 20\n0 200 inf 10", Because.FIT_FAILED),
        ("0 0 200 20", Because.FIT_FAILED),
        ("100 100 200 9\n100 200 300 5", Because.FIT_FAILED),
    ],
)
def test_without_a_fit_there_is_a_reason_and_no_number(rows, because):
    (fit,) = weibull(table(HEAD + rows), by=[])
    assert fit.because is because
    assert fit.log_likelihood is None
    for name in QUANTITIES:
        estimate = getattr(fit, name)
        assert (estimate.estimate, estimate.low, estimate.high, estimate.because) == (None, None, None, because)


def test_all_failures_at_one_age_with_survivors_beyond_it_can_be_fitted():
    (fit,) = weibull(table(HEAD + "0 300 300 9\n0 900 inf 9"), by=[])
    assert fit.because is None
    assert log_likelihood(table(HEAD + "0 300 300 9\n0 900 inf 9"), fit.shape.estimate, fit.scale.estimate) == (
        pytest.approx(fit.log_likelihood, rel=1e-9)
    )


def test_a_limit_that_does_not_exist_says_so_and_the_others_stand():
    # With nobody watched from the start the likelihood levels out towards a shape of 0 instead of falling.
    (fit,) = weibull(random_spells(40, spells=16, late_share=1.0, shape=1.0), by=[], level=0.9999)
    assert fit.because is None
    for estimate in (fit.shape, fit.b10):
        assert (estimate.low, estimate.because) == (None, Because.LIMIT_NOT_REACHED)
        assert estimate.high > estimate.estimate


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("300 300 300 1", "enters at or after"),
        ("400 300 inf 1", "enters at or after"),
        ("310 300 400 1", "enters at or after"),
        ("0 400 300 1", "ends before"),
        ("0 0 0 1", "no length"),
        ("0 0 inf 1", "enters at or after"),
        ("0 inf inf 1", "ends before"),
        ("-1 300 inf 1", "negative time"),
        ("0 nan inf 1", "missing"),
        ("0 300 inf 0.5", "count"),
    ],
)
def test_a_spell_that_cannot_be_is_refused_in_words(row, message):
    with pytest.raises(InputError, match=message):
        weibull(table(HEAD + "0 300 300 9\n0 500 500 9\n" + row), by=[])


def test_no_spells_have_no_fits():
    assert weibull(table(HEAD + "0 300 300 9").iloc[:0], by=[]) == []


SPELL = st.tuples(
    st.integers(0, 5), st.integers(0, 6), st.sampled_from(["exact", "well", "between"]), st.integers(1, 4), st.integers(1, 5)
)


@settings(deadline=None, max_examples=150)
@given(st.lists(SPELL, min_size=1, max_size=10), st.integers(1, 6))
def test_any_small_record_gives_a_fit_at_the_top_or_a_reason(rows, min_failures):
    spells = pd.DataFrame(rows, columns=["entry", "length", "kind", "width", "spell_count"])
    is_between = spells["kind"] == "between"
    spells["lower"] = spells["entry"] + np.where(is_between, spells["length"], spells["length"] + 1)
    spells["upper"] = np.select(
        [is_between, spells["kind"] == "exact"], [spells["lower"] + spells["width"], spells["lower"]], np.inf
    )
    (fit,) = weibull(spells, by=[], min_failures=min_failures)
    if fit.because is not None:
        assert fit.because in {Because.NO_FAILURES, Because.TOO_FEW_FAILURES, Because.FIT_FAILED}
        return
    for name in QUANTITIES:
        estimate = getattr(fit, name)
        assert np.isfinite(estimate.estimate)
        assert estimate.low is None or 0 < estimate.low <= estimate.estimate
        assert estimate.high is None or estimate.estimate <= estimate.high < np.inf
        assert (estimate.because is None) == (estimate.low is not None and estimate.high is not None)
