"""Lognormal fits from counts: against lifelines on rows, against the likelihood itself, and where there is no fit."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.lognormal import lognormal
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table, visited

QUANTITIES = ("log_sd", "median", "b10")
AGES = (40.0, 500.0, 2500.0)
#: Half the 95 % quantile of chi-squared with one degree of freedom, 3.8415 in any table.
DROP = 3.841458820694124 / 2


def estimates(fit) -> list:
    return [*(getattr(fit, name) for name in QUANTITIES), *fit.surviving]


def numbers(fit, *, factor: float = 1.0) -> list[float]:
    """Return all estimates and limits, times divided by the factor."""
    divisors = [1.0, factor, factor, *[1.0] * len(fit.surviving)]
    return [
        value / divisor
        for estimate, divisor in zip(estimates(fit), divisors, strict=True)
        for value in (estimate.estimate, estimate.low, estimate.high)
    ]


def log_likelihood(spells: pd.DataFrame, log_median: float, log_sd: float) -> float:
    """The likelihood spell by spell, straight from its definition: densities and probabilities given the entry."""
    from scipy.stats import norm

    with np.errstate(divide="ignore"):
        entry, lower, upper = (
            (np.log(spells[name].to_numpy(dtype=float)) - log_median) / log_sd for name in ("entry", "lower", "upper")
        )
    is_exact, is_well = (spells["lower"] == spells["upper"]).to_numpy(), np.isinf(spells["upper"]).to_numpy()
    density = norm.logpdf(lower) - np.log(log_sd * spells["lower"].where(is_exact, 1.0))
    # Differences of the tails where those are small.
    chance = np.where(lower > 0, norm.sf(lower) - norm.sf(upper), norm.cdf(upper) - norm.cdf(lower))
    between = np.log(np.maximum(chance, 1e-300))
    terms = np.where(is_exact, density, np.where(is_well, norm.logsf(lower), between)) - norm.logsf(entry)
    return float((spells["spell_count"] * terms).sum())


@pytest.mark.parametrize("late_share", [0.0, 0.3])
def test_counts_give_the_numbers_of_lifelines_on_rows(late_share):
    spells = random_spells(11, spells=900, groups=3, late_share=late_share, is_whole=True)
    cells = spells.groupby(["group", "entry", "lower", "upper"], as_index=False)["spell_count"].sum()
    for fit in lognormal(cells, by=["group"]):
        rows = spells[spells["group"] == fit.by[0]]
        theirs = lifelines.LogNormalFitter().fit(rows["at"], rows["is_failure"], entry=rows["entry"])
        # lifelines stops climbing a little under the top.
        assert (np.log(fit.median.estimate), fit.log_sd.estimate) == pytest.approx((theirs.mu_, theirs.sigma_), rel=1e-4)
        assert fit.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-8)
        assert fit.log_likelihood >= theirs.log_likelihood_
        assert (fit.spells, fit.failures) == (len(rows), rows["is_failure"].sum())


def test_complete_lives_give_the_closed_form():
    times = np.array([120.0, 200, 333, 410, 780, 1500, 90])
    (fit,) = lognormal(pd.DataFrame({"entry": 0.0, "lower": times, "upper": times, "spell_count": 3}), by=[])
    assert np.log(fit.median.estimate) == pytest.approx(np.log(times).mean(), rel=1e-10)
    assert fit.log_sd.estimate == pytest.approx(np.log(times).std(), rel=1e-10)


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
    from scipy.optimize import minimize_scalar
    from scipy.stats import norm

    spells = KINDS[kind]
    (fit,) = lognormal(spells, by=[], ages=AGES)
    log_median, log_sd = np.log(fit.median.estimate), fit.log_sd.estimate
    top = log_likelihood(spells, log_median, log_sd)
    assert fit.log_likelihood == pytest.approx(top, rel=1e-9)

    def best(at, bounds) -> float:
        """Return the top along a line of (log median, log sd)."""
        return -minimize_scalar(
            lambda one: -log_likelihood(spells, *at(one)), bounds=bounds, method="bounded", options={"xatol": 1e-10}
        ).fun

    steep = np.log(log_sd) + np.array([-1.5, 1.5])
    for limit in (fit.log_sd.low, fit.log_sd.high):
        assert top - best(lambda m, s=limit: (m, s), log_median + np.array([-6, 6])) == pytest.approx(DROP, abs=1e-4)
    for estimate, height in ((fit.median, 0.0), (fit.b10, norm.ppf(0.1))):
        assert estimate.low < estimate.estimate < estimate.high
        for limit in (estimate.low, estimate.high):
            profile = best(lambda b, t=limit, y=height: (np.log(t) - y * np.exp(b), np.exp(b)), steep)
            assert top - profile == pytest.approx(DROP, abs=1e-4)
    for age, estimate in zip(AGES, fit.surviving, strict=True):
        assert estimate.estimate == pytest.approx(norm.sf((np.log(age) - log_median) / log_sd), rel=1e-9)
        assert estimate.low < estimate.estimate < estimate.high
        for limit in (estimate.low, estimate.high):
            height = norm.isf(limit)
            profile = best(lambda b, t=age, y=height: (np.log(t) - y * np.exp(b), np.exp(b)), steep)
            assert top - profile == pytest.approx(DROP, abs=1e-4)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("factor", [1e-6, 1 / 24, 1e6])
def test_rescaled_time_gives_rescaled_numbers(kind, factor):
    spells = KINDS[kind]
    times = ["entry", "lower", "upper"]
    (one,) = lognormal(spells, by=[], ages=AGES)
    scaled = spells.assign(**{name: spells[name] * factor for name in times})
    (other,) = lognormal(scaled, by=[], ages=[age * factor for age in AGES])
    assert numbers(other, factor=factor) == pytest.approx(numbers(one), rel=1e-9)
    exact = (spells["lower"] == spells["upper"]).sum()
    assert other.log_likelihood == pytest.approx(one.log_likelihood - exact * np.log(factor), rel=1e-9)


def test_permuted_rows_and_other_groups_beside_it_change_nothing():
    spells = visited(random_spells(31, spells=400, groups=4), every=90.0)
    together = lognormal(spells, by=["group"], ages=AGES)
    shuffled = lognormal(spells.sample(frac=1, random_state=3), by=["group"], ages=AGES)
    for one, other in zip(together, shuffled, strict=True):
        (alone,) = lognormal(spells[spells["group"] == one.by[0]], by=["group"], ages=AGES)
        assert numbers(other) == pytest.approx(numbers(one), rel=1e-9)
        assert numbers(alone) == pytest.approx(numbers(one), rel=1e-9)


def test_counts_are_as_good_as_rows_and_late_entries_may_be_counted_apart():
    spells = visited(random_spells(32, spells=300, groups=2, is_whole=True), every=50.0)
    keys = ["group", "lower", "upper"]
    entries = spells[spells["entry"] > 0].groupby(["group", "entry"], as_index=False)["spell_count"].sum()
    apart = spells.groupby(keys, as_index=False)["spell_count"].sum()
    for one, other in zip(
        lognormal(spells, by=["group"]), lognormal(apart, by=["group"], entries=entries), strict=True
    ):  # fmt: skip
        assert numbers(other) == pytest.approx(numbers(one), rel=1e-9)


@pytest.mark.parametrize("width", [1e-6, 1e-4, 1e-2])
def test_a_narrow_interval_is_as_good_as_an_exact_failure(width):
    exact = KINDS["exact"]
    is_failure = np.isfinite(exact["upper"])
    narrow = exact.assign(lower=np.where(is_failure, exact["at"] - width, exact["at"]))
    rel = max(1e-7, width / 10)
    assert numbers(lognormal(narrow, by=[])[0]) == pytest.approx(numbers(lognormal(exact, by=[])[0]), rel=rel)


def test_a_thousand_groups_have_a_fit_each():
    spells = random_spells(33, spells=30_000).assign(group=lambda frame: np.arange(len(frame)) % 1000)
    fits = lognormal(spells, by=["group"])
    assert len(fits) == 1000
    assert all(fit.because is None for fit in fits)


HEAD = "entry lower upper spell_count\n"


@pytest.mark.parametrize(
    ("rows", "because"),
    [
        ("0 500 inf 40", Because.NO_FAILURES),
        ("0 300 300 1\n0 500 inf 40", Because.TOO_FEW_FAILURES),
        ("0 300 300 9", Because.FIT_FAILED),
        ("0 300 300 9\n0 200 inf 9", Because.FIT_FAILED),
        ("0 100 200 20\n0 200 inf 10", Because.FIT_FAILED),
        ("0 0 200 20", Because.FIT_FAILED),
        ("100 100 200 9\n100 200 300 5", Because.FIT_FAILED),
    ],
)
def test_without_a_fit_there_is_a_reason_and_no_number(rows, because):
    (fit,) = lognormal(table(HEAD + rows), by=[], ages=AGES)
    assert fit.because is because
    assert fit.log_likelihood is None
    assert len(fit.surviving) == len(AGES)
    for estimate in estimates(fit):
        assert (estimate.estimate, estimate.low, estimate.high, estimate.because) == (None, None, None, because)


def test_no_spells_have_no_fits_and_an_age_that_is_none_is_refused():
    assert lognormal(table(HEAD + "0 300 300 9").iloc[:0], by=[]) == []
    for age in (0.0, -1.0, np.inf, np.nan):
        with pytest.raises(InputError, match="age"):
            lognormal(table(HEAD + "0 300 300 9"), by=[], ages=[age])
    with pytest.raises(InputError, match="ends before"):
        lognormal(table(HEAD + "0 400 300 1"), by=[])


def test_an_age_far_beyond_the_log_has_a_share_that_is_no_zero():
    (fit,) = lognormal(KINDS["exact"], by=[], ages=[1e-3, 1e9])
    assert fit.surviving[0].estimate == pytest.approx(1)
    assert 0 < fit.surviving[1].low < fit.surviving[1].estimate < fit.surviving[1].high < 1e-6


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
    (fit,) = lognormal(spells, by=[], min_failures=min_failures, ages=[2.0, 40.0])
    if fit.because is not None:
        assert fit.because in {Because.NO_FAILURES, Because.TOO_FEW_FAILURES, Because.FIT_FAILED}
        return
    for estimate in estimates(fit):
        assert np.isfinite(estimate.estimate)
        assert estimate.low is None or 0 < estimate.low <= estimate.estimate
        assert estimate.high is None or estimate.estimate <= estimate.high < np.inf
        assert (estimate.because is None) == (estimate.low is not None and estimate.high is not None)


def test_the_limits_of_b10_cover_it_as_often_as_they_say():
    # 300 fleets as groups of one frame: 30 failures of 60 modules each, log life normal with sd 0.8 about log 900.
    from scipy.stats import binom

    fleets = 300
    rng = np.random.default_rng(20_261)
    life = np.sort(900 * np.exp(0.8 * rng.standard_normal((fleets, 60))), axis=1)
    end = np.minimum(life, life[:, 29:30])
    spells = pd.DataFrame({"fleet": np.repeat(np.arange(fleets), 60), "lower": end.ravel(), "entry": 0.0, "spell_count": 1})
    spells["upper"] = np.where(life <= life[:, 29:30], end, np.inf).ravel()
    truth = 900 * np.exp(0.8 * -1.2815515655446004)
    covered = sum(fit.b10.low <= truth <= fit.b10.high for fit in lognormal(spells, by=["fleet"]))
    low, high = binom.ppf(0.005, fleets, 0.93), binom.ppf(0.995, fleets, 0.97)
    assert low <= covered <= high


def test_thinned_tails_give_the_limits_that_all_points_give(monkeypatch):
    from pipelines.estimates.lognormal_likelihood import LognormalCounts

    spells = random_spells(34, spells=20_000, groups=3, is_whole=True)
    quick = lognormal(spells, by=["group"], ages=AGES)
    monkeypatch.setattr(LognormalCounts, "quick", lambda self, middle, half_width: (self, np.zeros(3, dtype=bool)))
    for one, other in zip(quick, lognormal(spells, by=["group"], ages=AGES), strict=True):
        assert numbers(one) == pytest.approx(numbers(other), rel=1e-9)
        assert numbers(one) != numbers(other)
