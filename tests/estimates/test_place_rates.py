"""Places against luck: by hand, against statsmodels' and scipy's laws, invariances, known floors, and bad input."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipelines.errors import InputError
from pipelines.estimates.expected_faults import expected_faults
from pipelines.estimates.place_rates import place_rates
from pipelines.estimates.unit_factors import SPREADS, UnitFactors
from pipelines.vocabulary import Because
from tests.estimates.floors import floor

HEAD = ["station", "family", "unit", "exposure", "failure_count"]


def counts(*rows: tuple) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=HEAD)


def by_name(rates):
    return {one.name: one for one in rates.places}


def test_what_is_expected_is_the_fit_of_a_log_linear_law():
    rng = np.random.default_rng(3)
    rows = floor(rng, seats=60, expected=6, variance=0.2)
    due, _ = expected_faults(rows, rows["exposure"].to_numpy(), rows["failure_count"].to_numpy(), by=["family", "site"])
    for column in ("family", "site"):  # the score equations of a Poisson regression on both
        sums = rows.assign(due=due).groupby(column)[["due", "failure_count"]].sum()
        assert sums["due"].to_numpy() == pytest.approx(sums["failure_count"].to_numpy(), rel=1e-8)
    rate = np.log(due / rows["exposure"])
    table = rows.assign(rate=rate).groupby(["family", "site"])["rate"].mean().unstack()
    steps = (table[1] - table[0]).dropna()
    assert steps.to_numpy() == pytest.approx(steps.iloc[0], abs=1e-7)  # the same ratio of sites in every family


def test_two_places_are_held_against_each_other_as_a_binomial_share():
    rows = counts(*(("A", "x", f"a{n}", 10.0, k) for n, k in enumerate((3, 2, 4, 3))),
                  *(("B", "x", f"b{n}", 10.0, k) for n, k in enumerate((2, 3, 3, 2))))  # fmt: skip
    one = by_name(place_rates(rows, place="station", adjust=["family"]))["A"]
    assert (one.failures, one.expected, one.ratio) == (12, pytest.approx(11.0), pytest.approx(12 / 11))
    exact = stats.binom(22, 0.5)
    # controllers hardly differ here, so it is a little above the exact conditional mid-p value
    assert exact.sf(12) + exact.pmf(12) / 2 < one.p_value < exact.sf(12) + exact.pmf(12) / 2 + 0.06


def test_sticks_of_the_same_controllers_share_their_luck():
    """However much controllers differ, left and right of each are compared as if they did not."""
    rng = np.random.default_rng(5)
    rows = floor(rng, seats=200, expected=8, variance=1.0)
    one = by_name(place_rates(rows, place="stick", adjust=["family", "site"]))["L"]
    total = int(rows["failure_count"].sum())
    half = np.sqrt(total) / 2 * 1.96 / (total / 2)
    assert one.luck_high - 1 == pytest.approx(half, rel=0.05)


def test_the_rate_has_exact_limits_where_controllers_are_alike_and_wider_ones_where_they_differ():
    alike = floor(np.random.default_rng(1), seats=400, expected=8, variance=0.0, sites=1, families=1)
    apart = floor(np.random.default_rng(1), seats=400, expected=8, variance=1.0, sites=1, families=1)
    for rows, is_exact in ((alike, True), (apart, False)):
        one = place_rates(rows, place="station", adjust=["family"]).places[0]
        exact = stats.gamma(one.failures + 1).ppf(0.975) / one.exposure
        assert bool(one.rate.high < 1.1 * exact) is is_exact
        assert one.rate.high >= exact * (1 - 1e-9)


def test_order_of_rows_and_unit_of_time_change_nothing():
    rows = floor(np.random.default_rng(7), seats=40, expected=5, variance=0.3, bad=4)
    plain = place_rates(rows, place="station", adjust=["family", "site"])
    mixed = place_rates(rows.sample(frac=1, random_state=1), place="station", adjust=["family", "site"])
    slower = place_rates(rows.assign(exposure=rows["exposure"] / 24), place="station", adjust=["family", "site"])
    for one, other, slow in zip(plain.places, mixed.places, slower.places, strict=True):
        assert other.p_value == pytest.approx(one.p_value, rel=1e-8)
        assert slow.p_value == pytest.approx(one.p_value, rel=1e-8)
        assert slow.rate.high == pytest.approx(24 * one.rate.high, rel=1e-8)


def test_rows_of_a_place_may_be_split():
    rows = floor(np.random.default_rng(8), seats=30, expected=5, variance=0.3)
    halves = pd.concat([rows.assign(exposure=rows["exposure"] / 2), rows.assign(exposure=rows["exposure"] / 2, failure_count=0)])
    one, other = (place_rates(some, place="station", adjust=["family", "site"]) for some in (rows, halves))
    assert [place.p_value for place in one.places] == pytest.approx([place.p_value for place in other.places], rel=1e-8)


@pytest.mark.parametrize("variance", [0.0, 0.3])
def test_floors_without_a_bad_seat_seldom_name_one_and_a_bad_seat_is_found(variance):
    rng, floors = np.random.default_rng(11), 120
    words = {"seats": 60, "expected": 12, "variance": variance}
    named = sum(
        any(one.is_worse for one in place_rates(floor(rng, **words), place="station", adjust=["family", "site"]).places)
        for _ in range(floors)
    )
    found = sum(
        by_name(place_rates(floor(rng, **words, bad=3), place="station", adjust=["family", "site"]))["0"].is_worse
        for _ in range(floors)
    )
    # at most 1 in 20, to within what 120 floors tell; a seat of three times the faults is found where controllers are alike
    assert named <= stats.binom(floors, 0.05).ppf(0.99)
    assert found >= (0.6 if variance == 0 else 0.1) * floors


def test_a_place_without_anything_to_be_held_against_is_not_compared():
    rows = counts(("A", "x", 1, 10.0, 2), ("B", "x", 2, 10.0, 3), ("C", "alone", 3, 10.0, 4), ("D", "x", 4, 0.0, 0),
                  ("E", "never", 5, 10.0, 0), (None, "x", 6, 10.0, 50))  # fmt: skip
    found = by_name(place_rates(rows, place="station", adjust=["family"]))
    assert {name: one.because for name, one in found.items()} == {
        "A": None, "B": None, "C": Because.CONFOUNDED, "D": Because.NO_SPELLS, "E": Because.NO_FAILURES,
    }  # fmt: skip
    assert found["D"].rate.because is Because.NO_SPELLS
    assert found["E"].rate.estimate == 0
    assert found["E"].rate.high == pytest.approx(stats.gamma(1).ppf(0.975) / 10)


@pytest.mark.parametrize(
    ("rows", "because"),
    [
        (counts(), Because.NO_SPELLS),
        (counts(("A", "x", 1, 10.0, 0), ("B", "x", 2, 10.0, 0)), Because.NO_FAILURES),
        (counts(("A", "x", 1, 10.0, 3)), Because.ONE_LEVEL),
        (counts(("A", "x", 1, 10.0, 3), ("B", "y", 2, 10.0, 3)), Because.ONE_LEVEL),
        (counts(("A", "x", 1, 0.0, 2), ("B", "x", 2, 0.0, 0)), Because.ONE_LEVEL),
    ],
)
def test_too_little_is_a_reason_and_no_number(rows, because):
    found = place_rates(rows, place="station", adjust=["family"])
    assert found.because is because
    assert not any(one.is_worse or one.ratio is not None for one in found.places)


def test_a_thousand_places_of_one_controller_each_and_ties_everywhere():
    rows = pd.DataFrame(
        {"station": np.arange(1000), "family": "x", "unit": np.arange(1000), "exposure": 10.0, "failure_count": 1}
    )
    found = place_rates(rows, place="station", adjust=["family"])
    assert [one.ratio for one in found.places] == pytest.approx([1.0] * 1000)
    assert not any(one.is_worse for one in found.places)


@pytest.mark.parametrize(
    ("column", "value"), [("exposure", -1.0), ("exposure", np.inf), ("exposure", np.nan), ("failure_count", 0.5)]
)
def test_broken_counts_are_refused(column, value):
    rows = counts(("A", "x", 1, 10.0, 2), ("B", "x", 2, 10.0, 3)).astype({"failure_count": float})
    rows.loc[0, column] = value
    with pytest.raises(InputError):
        place_rates(rows, place="station", adjust=["family"])


def test_factors_of_controllers_are_those_of_the_gamma_law():
    """Against numerical integration of the same posterior."""
    rng = np.random.default_rng(2)
    expected = rng.uniform(1, 9, 40)
    observed = rng.poisson(expected * rng.gamma(2, 0.5, 40)).astype(float)
    factors = UnitFactors(observed, expected)
    (one,) = factors.factor(np.array([0]))
    z = np.linspace(1e-4, 12, 40_000)
    log_prior = -(SPREADS**2) / (2 * 0.5**2)
    density = np.zeros_like(z)
    for spread, prior in zip(SPREADS, log_prior, strict=True):
        a = spread**-2
        marginal = stats.nbinom(a, a / (a + expected)).logpmf(observed).sum()
        density += np.exp(prior + marginal + 100) * stats.gamma(a + observed[0], scale=1 / (a + expected[0])).pdf(z)
    density /= density.sum()
    assert one.estimate == pytest.approx(z @ density, rel=1e-3)
    assert one.low == pytest.approx(z[np.searchsorted(density.cumsum(), 0.025)], rel=2e-3)
    assert one.high == pytest.approx(z[np.searchsorted(density.cumsum(), 0.975)], rel=2e-3)
    assert factors.exceeds(np.array([0]), np.array([1.2]))[0] == pytest.approx(density[z > 1.2].sum(), abs=1e-3)
    assert factors.exceeds(np.array([0, 1]), np.array([np.inf, 0.0])).tolist() == [0.0, pytest.approx(1.0)]


def test_factors_of_broken_counts_are_refused():
    with pytest.raises(InputError):
        UnitFactors(np.array([1.0]), np.array([np.nan]))
