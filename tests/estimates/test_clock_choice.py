"""Hours or days: against lifelines on rows and a direct profile, on fleets of a known clock, and where it cannot be told."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize

from pipelines.errors import InputError
from pipelines.estimates.clock_choice import ClockVerdict, clock_choice
from pipelines.vocabulary import Because
from tests.estimates.spells import table


def fleet(
    seed: int, *, spells: int = 200, coefficient: float = -1.0, late_share: float = 0.3, usage_spread: float = 0.6
) -> pd.DataFrame:
    """Return spells in days whose lives go with (hours a day)^coefficient, shape 2, some watched late; about 70 % fail."""
    rng = np.random.default_rng(seed)
    usage = np.exp(rng.normal(0.5, usage_spread, spells))
    life = 400 * (usage / np.exp(0.5)) ** coefficient * rng.weibull(2.0, spells)
    entry = np.where(rng.random(spells) < late_share, rng.uniform(0, 200, spells), 0.0)
    censor = entry + rng.uniform(150, 900, spells)
    at, is_failure = np.minimum(life, censor), life <= censor
    rows = pd.DataFrame({"hours_per_day": usage, "entry": entry, "lower": at, "upper": np.where(is_failure, at, np.inf)})
    return rows[life > entry].assign(spell_count=1).reset_index(drop=True)


def only(spells: pd.DataFrame, **rest):
    (found,) = clock_choice(spells, by=[], **rest)
    return found


@pytest.mark.parametrize("late_share", [0.0, 0.5])
def test_the_coefficient_and_shape_are_those_of_lifelines(late_share):
    spells = fleet(1, spells=600, late_share=late_share)
    found = only(spells)
    rows = pd.DataFrame({"log_usage": np.log(spells["hours_per_day"]), "at": spells["lower"], "entry": spells["entry"]})
    rows["is_failure"] = np.isfinite(spells["upper"])
    theirs = lifelines.WeibullAFTFitter().fit(rows, "at", "is_failure", entry_col="entry")
    assert found.coefficient.estimate == pytest.approx(theirs.params_["lambda_", "log_usage"], abs=1e-5)
    assert found.shape == pytest.approx(np.exp(theirs.params_["rho_", "Intercept"]), rel=1e-5)
    # With many failures the likelihood's own limits lie close to the symmetric ones.
    low, high = theirs.confidence_intervals_.loc[("lambda_", "log_usage")]
    assert (found.coefficient.low, found.coefficient.high) == pytest.approx((low, high), abs=0.01)
    assert (found.failures, found.spells) == (rows["is_failure"].sum(), len(rows))
    assert found.usage_spread == pytest.approx(rows["log_usage"].std(ddof=0))


def test_the_limits_lie_where_the_likelihood_has_dropped_by_the_quantile():
    spells = fleet(5, spells=45)
    found = only(spells).coefficient
    g, is_failure = np.log(spells["hours_per_day"]), np.isfinite(spells["upper"])

    def best_loss(coefficient: float) -> float:
        def loss(theta):
            shape, scale = np.exp(theta[0]), np.exp(theta[1] + coefficient * g)
            hazard, before = (spells["lower"] / scale) ** shape, (spells["entry"] / scale) ** shape
            density = np.log(shape / scale) + (shape - 1) * np.log(spells["lower"] / scale)
            return (hazard - before).sum() - density[is_failure].sum()

        return minimize(loss, [0.7, 6.5], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10}).fun

    top = best_loss(found.estimate)
    for limit in (found.low, found.high):
        assert 2 * (best_loss(limit) - top) == pytest.approx(3.841459, abs=1e-4)
    assert best_loss(found.estimate + 0.01) > top < best_loss(found.estimate - 0.01)


@pytest.mark.parametrize(
    ("coefficient", "clock", "other"),
    [(-1.0, ClockVerdict.HOURS, ClockVerdict.DAYS), (0.0, ClockVerdict.DAYS, ClockVerdict.HOURS)],
)
def test_a_pure_clock_is_chosen_at_fifty_failures_and_never_the_other(coefficient, clock, other):
    found = [only(fleet(seed, spells=75, coefficient=coefficient)) for seed in range(200)]
    assert 40 < np.mean([one.failures for one in found]) < 60
    verdicts = [one.verdict for one in found]
    assert other not in verdicts
    assert np.mean([one is clock for one in verdicts]) >= 0.95
    held = np.mean([one.coefficient.low <= coefficient <= one.coefficient.high for one in found])
    # Binomial 99 % band around 95 % at 200 fleets.
    assert 0.91 <= held <= 0.99


def test_lives_between_the_clocks_and_outside_both_are_said_to_be():
    assert only(fleet(3, spells=800, coefficient=-0.5)).verdict is ClockVerdict.BETWEEN
    assert only(fleet(3, spells=800, coefficient=0.8)).verdict is ClockVerdict.NEITHER
    near = only(fleet(3, spells=20_000, coefficient=-0.9))
    assert near.coefficient.low > -1
    assert near.verdict is ClockVerdict.HOURS


def test_little_spread_in_usage_fits_both_clocks_and_none_at_all_tells_nothing():
    both = only(fleet(4, spells=60, usage_spread=0.1))
    assert (both.verdict, both.because) == (ClockVerdict.CANNOT_TELL, Because.BOTH_CLOCKS_FIT)
    assert both.coefficient.low < -1 < 0 < both.coefficient.high
    alike = only(fleet(4).assign(hours_per_day=3.0))
    assert (alike.verdict, alike.because) == (ClockVerdict.CANNOT_TELL, Because.NO_USAGE_SPREAD)
    assert (alike.coefficient.estimate, alike.shape) == (None, None)


@pytest.mark.parametrize(("failures", "because"), [(0, Because.NO_FAILURES), (19, Because.TOO_FEW_FAILURES)])
def test_too_few_failures_are_a_reason_and_not_a_number(failures, because):
    spells = fleet(6).assign(upper=lambda rows: rows["upper"].where(np.isfinite(rows["upper"]).cumsum() <= failures, np.inf))
    found = only(spells)
    assert (found.failures, found.because, found.coefficient.because) == (failures, because, because)


def test_spells_that_all_fail_at_once_have_no_fit():
    spells = fleet(7).assign(entry=0.0, lower=100.0, upper=100.0)
    found = only(spells)
    assert (found.verdict, found.because) == (ClockVerdict.CANNOT_TELL, Because.FIT_FAILED)


def test_all_failing_at_one_number_of_hours_have_no_shape():
    spells = fleet(7).assign(entry=0.0)
    spells["lower"] = spells["upper"] = 300 / spells["hours_per_day"]
    assert only(spells).because is Because.FIT_FAILED


def test_counts_permuted_rows_and_rescaled_times_give_the_same_answer():
    spells = fleet(8, spells=400)
    spells["hours_per_day"] = np.exp(np.round(np.log(spells["hours_per_day"]) / 0.3) * 0.3)
    spells["entry"], spells["lower"] = np.floor(spells["entry"] / 20) * 20, np.ceil(spells["lower"] / 20) * 20
    spells["upper"] = spells["lower"].where(np.isfinite(spells["upper"]), np.inf)
    cells = spells.groupby(["hours_per_day", "entry", "lower", "upper"], as_index=False)["spell_count"].sum()
    assert len(cells) < len(spells)
    scaled = cells.assign(
        **{name: cells[name] / 7 for name in ("entry", "lower", "upper")}, hours_per_day=cells["hours_per_day"] * 7
    )
    want = only(spells)
    for other in (cells, spells.sample(frac=1, random_state=1), scaled):
        found = only(other)
        assert found.verdict is want.verdict
        for name in ("low", "estimate", "high"):
            assert getattr(found.coefficient, name) == pytest.approx(getattr(want.coefficient, name), abs=1e-7)
        assert found.shape == pytest.approx(want.shape, rel=1e-8)


def test_a_failure_between_two_visits_counts_at_the_midpoint():
    spells = fleet(9)
    is_failure = np.isfinite(spells["upper"])
    wide = spells.assign(
        lower=np.where(is_failure, spells["lower"] - 0.5 * (spells["lower"] - spells["entry"]), spells["lower"]),
        upper=np.where(is_failure, spells["lower"] + 0.5 * (spells["lower"] - spells["entry"]), np.inf),
    )
    assert only(wide).coefficient.estimate == pytest.approx(only(spells).coefficient.estimate, abs=1e-9)


def test_groups_are_answered_apart_each_with_its_own_reason():
    parts = [fleet(1).assign(family="a"), fleet(2, coefficient=0.0).assign(family="b"), fleet(3, spells=9).assign(family="c")]
    found = clock_choice(pd.concat(parts, ignore_index=True), by=["family"])
    assert [one.by for one in found] == [("a",), ("b",), ("c",)]
    assert [one.verdict for one in found] == [ClockVerdict.HOURS, ClockVerdict.DAYS, ClockVerdict.CANNOT_TELL]
    assert found[0].coefficient.estimate == pytest.approx(only(fleet(1)).coefficient.estimate, abs=1e-9)


@pytest.mark.parametrize("seed", range(0, 400, 8))
def test_ties_and_tiny_groups_are_answered_in_finite_numbers_or_refused(seed):
    rng = np.random.default_rng(seed)
    spells = int(rng.integers(1, 40))
    at = rng.integers(1, rng.integers(2, 30), spells).astype(float)
    entry = np.minimum(np.floor(at * rng.random(spells) * (rng.random(spells) < 0.5)), at - 1)
    rows = pd.DataFrame(
        {"family": rng.integers(0, 4, spells), "entry": entry, "lower": at, "spell_count": rng.integers(0, 5, spells)}
    )
    rows["upper"] = np.where(rng.random(spells) < rng.choice([0.1, 0.5, 1]), at, np.inf)
    rows["hours_per_day"] = rng.choice([0.01, 1, 2, 8, 24, 0.001][: rng.integers(1, 7)], spells)
    for found in clock_choice(rows, by=["family"], min_failures=2):
        numbers = [found.shape, found.coefficient.estimate, found.coefficient.low, found.coefficient.high]
        assert all(one is None or np.isfinite(one) for one in numbers)
        assert (found.coefficient.estimate is None) == (found.coefficient.because not in (None, Because.LIMIT_NOT_REACHED))


def test_a_thousand_groups_and_none_are_answered():
    many = fleet(1, spells=30_000)
    found = clock_choice(many.assign(family=np.arange(len(many)) % 1000), by=["family"])
    assert len(found) == 1000
    assert clock_choice(many.iloc[:0], by=[]) == []


@pytest.mark.parametrize("row", ["0 0 5 5 1", "nan 0 5 5 1", "inf 0 5 5 1", "2 5 5 5 1", "2 0 0 0 1", "2 0 9 5 1", "2 0 5 5 .5"])
def test_spells_that_cannot_be_are_refused_in_words(row):
    with pytest.raises(InputError):
        only(table(f"hours_per_day entry lower upper spell_count\n1 0 9 inf 1\n{row}"))
