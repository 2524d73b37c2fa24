"""Dating failures at the visit: the size of the error against the exact limit of both fits, and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.dating import dating
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table, visited


def expected_counts(spacing: float, *, shape: float, last: float, modules: float = 1e9) -> pd.DataFrame:
    """Return what visits every so often find in a very large fleet of scale 1, watched up to the last visit."""
    upper = np.arange(1, round(last / spacing) + 1) * spacing
    left = np.exp(-(np.append(0, upper) ** shape))
    found = pd.DataFrame({"lower": upper - spacing, "upper": upper, "spell_count": -np.diff(left)})
    found.loc[0, "lower"] = 0.0
    found.loc[len(found)] = [upper[-1], np.inf, left[-1]]
    return found.assign(entry=0.0, spell_count=np.round(found["spell_count"] * modules))


@pytest.mark.parametrize(("shape", "spacing"), [(2.0, 0.1), (2.0, 0.4), (1.4, 0.2)])
def test_the_error_is_the_one_that_the_likelihood_of_an_endless_fleet_has(shape, spacing):
    from scipy.optimize import minimize

    spells = expected_counts(spacing, shape=shape, last=1.2)
    (found,) = dating(spells, by=[])
    assert found.between.shape.estimate == pytest.approx(shape, rel=1e-5)
    assert found.between.scale.estimate == pytest.approx(1, rel=1e-5)
    share = spells["spell_count"] / spells["spell_count"].sum()
    is_failure = np.isfinite(spells["upper"])
    at = spells["upper"].where(is_failure, spells["lower"])

    def naive(logs):
        k, scale = np.exp(logs)
        density = np.log(k / scale) + (k - 1) * np.log(at / scale)
        return -(share * (np.where(is_failure, density, 0.0) - (at / scale) ** k)).sum()

    k, scale = np.exp(minimize(naive, [0.5, 0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-14}).x)
    b10 = scale * (-np.log(0.9)) ** (1 / k) / (-np.log(0.9)) ** (1 / shape)
    median = scale * np.log(2) ** (1 / k) / np.log(2) ** (1 / shape)
    assert (found.b10_ratio, found.median_ratio, found.shape_ratio) == pytest.approx((b10, median, k / shape), rel=1e-4)


def test_the_error_in_b10_has_the_size_that_was_simulated_before():
    # At a visit each .1, .2, .4 of the scale B10 comes out about 15, 31 and 57 % too late, and the interval fit right.
    rng = np.random.default_rng(77)
    life, end = rng.weibull(2.0, 200_000), rng.uniform(0.2, 1.2, 200_000)
    for spacing, error in ((0.1, 0.15), (0.2, 0.31), (0.4, 0.57)):
        last = np.ceil(end / spacing) * spacing
        visit = np.ceil(life / spacing) * spacing
        is_failure = visit <= last
        spells = pd.DataFrame(
            {"entry": 0.0, "lower": np.where(is_failure, np.maximum(visit - spacing, 0), last), "spell_count": 1}
        ).assign(upper=np.where(is_failure, visit, np.inf))  # fmt: skip
        cells = spells.groupby(["entry", "lower", "upper"], as_index=False)["spell_count"].sum()
        (found,) = dating(cells, by=[])
        assert found.b10_ratio - 1 == pytest.approx(error, abs=0.04)
        assert found.between.b10.estimate / np.sqrt(-np.log(0.9)) == pytest.approx(1, abs=0.02)
        assert found.is_misleading


def test_exact_failures_mislead_nobody():
    (found,) = dating(random_spells(3, spells=100), by=[])
    assert (found.between_count, found.is_misleading, found.because) == (0, False, None)
    assert (found.b10_ratio, found.median_ratio, found.shape_ratio) == (1, 1, 1)


def test_frequent_visits_mislead_little_and_rare_ones_much():
    spells = random_spells(4, spells=800, groups=2, late_share=0.3)
    for every, is_misleading in ((5.0, False), (400.0, True)):
        for found in dating(visited(spells, every=every), by=["group"]):
            assert found.is_misleading is is_misleading
            assert found.between_count == found.between.failures


@pytest.mark.parametrize(("spacing", "is_misleading"), [(0.02, False), (0.05, True)])
def test_a_b10_more_than_five_percent_off_misleads_though_the_median_does_not(spacing, is_misleading):
    (found,) = dating(expected_counts(spacing, shape=2.0, last=1.2), by=[])
    assert found.is_misleading is is_misleading is (abs(found.b10_ratio - 1) > 0.05)
    assert abs(found.b10_ratio - 1) < 0.1
    assert abs(found.median_ratio - 1) < 0.05


def test_six_failures_are_enough_unless_asked_otherwise():
    spells = random_spells(9, spells=60)
    failures = np.flatnonzero(spells["is_failure"])
    six, five = spells.drop(failures[6:]), spells.drop(failures[5:])
    assert [dating(one, by=[])[0].because for one in (six, five)] == [None, Because.TOO_FEW_FAILURES]
    assert dating(five, by=[], min_failures=5)[0].because is None


def test_the_unit_of_time_and_the_order_of_rows_change_nothing():
    spells = visited(random_spells(6, spells=200), every=100.0)
    scaled = spells.sample(frac=1, random_state=2).assign(**{one: spells[one] / 24 for one in ("entry", "lower", "upper")})
    (one,), (other,) = dating(spells, by=[]), dating(scaled, by=[])
    ratios = [(fit.b10_ratio, fit.median_ratio, fit.shape_ratio) for fit in (one, other)]
    assert ratios[1] == pytest.approx(ratios[0], rel=1e-8)


@pytest.mark.parametrize(
    ("rows", "because"),
    [
        ("0 500 inf 40", Because.NO_FAILURES),
        ("0 100 300 2", Because.TOO_FEW_FAILURES),
        ("0 300 300 9", Because.FIT_FAILED),
        ("0 100 200 20\n0 200 inf 10", Because.FIT_FAILED),
        # Between the visits all may have failed at one age; at the visits they failed at two.
        ("0 0 200 5\n0 100 300 5", Because.FIT_FAILED),
    ],
)
def test_without_a_fit_there_is_a_reason_and_no_ratio(rows, because):
    (found,) = dating(table("entry lower upper spell_count\n" + rows), by=[])
    assert found.because is because
    assert found.is_misleading is None
    for name in ("b10", "median", "shape"):
        assert getattr(found, f"{name}_ratio") is None


def test_no_spells_have_no_record():
    assert dating(table("entry lower upper spell_count\n0 300 300 9").iloc[:0], by=[]) == []
