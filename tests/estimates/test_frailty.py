"""Weibull lives with a shared gamma factor: numeric integration, known truth, and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.stats import gamma

from pipelines.errors import InputError
from pipelines.estimates.frailty import _Lives, frailty
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.calibration.fleets import paired_spells
from tests.estimates.spells import table


def fleet(seed: int, *, clusters: int, each: int, variance: float) -> pd.DataFrame:
    """Return spells of shape 2 and scale 500; a late cluster is watched if all its spells were well at its entry."""
    rng = np.random.default_rng(seed)
    factor = rng.gamma(1 / variance, variance, clusters) if variance else np.ones(clusters)
    cluster, number = np.repeat(np.arange(clusters), each), clusters * each
    life = 500 * np.sqrt(rng.exponential(1, number) / factor[cluster])
    entry = np.repeat(rng.uniform(0, 200, clusters) * (rng.random(clusters) < 0.4), each)
    last = entry + rng.uniform(100, 1000, number)
    is_watched = np.repeat((life > entry).reshape(clusters, each).all(axis=1), each)
    rows = pd.DataFrame({"cluster": cluster, "entry": entry, "at": np.minimum(life, last), "is_failure": life <= last})
    return rows.assign(spell_count=1)[is_watched].reset_index(drop=True)


TINY = table("""
    cluster entry at  is_failure spell_count
    1       0     0.3 True       1
    1       0     0.9 True       2
    2       0.2   0.7 False      1
    2       0.2   1.0 True       1
    3       0     0.5 True       1
    3       0.4   0.8 False      3
    """)


def lives_of(rows: pd.DataFrame) -> _Lives:
    columns = (rows[name].to_numpy() for name in ("entry", "at", "is_failure", "spell_count"))
    return _Lives(*columns, rows["cluster"].to_numpy() - 1)


def by_integration(rows: pd.DataFrame, scale: float, shape: float, variance: float) -> float:
    """Return the log-likelihood by integrating over the factor of each cluster, on both sides of the condition."""
    total = 0.0
    factors = gamma(1 / variance, scale=variance)
    for _, mine in rows.groupby("cluster"):

        def above(z, mine=mine):
            hazard = (mine["at"] / scale) ** shape
            dense = z * shape / scale * (mine["at"] / scale) ** (shape - 1)
            each = np.where(mine["is_failure"], dense, 1.0) * np.exp(-z * hazard)
            return np.prod(each ** mine["spell_count"]) * factors.pdf(z)

        def below(z, mine=mine):
            return np.exp(-z * (mine["spell_count"] * (mine["entry"] / scale) ** shape).sum()) * factors.pdf(z)

        total += np.log(quad(above, 0, np.inf, epsabs=0, epsrel=1e-10)[0] / quad(below, 0, np.inf, epsabs=0, epsrel=1e-10)[0])
    return total  # fmt: skip


@pytest.mark.parametrize(("scale", "shape", "variance"), [(0.8, 2.0, 0.3), (1.3, 0.9, 0.9), (0.5, 3.0, 0.6)])
def test_the_closed_form_is_the_integral_over_the_factors(scale, shape, variance):
    value, _ = lives_of(TINY).likelihood(np.array([np.log(scale), np.log(shape), variance]))
    fails = TINY["is_failure"]
    constant = (TINY.loc[fails, "spell_count"] * np.log(TINY.loc[fails, "at"])).sum()
    assert value - constant == pytest.approx(by_integration(TINY, scale, shape, variance), rel=1e-8)


@pytest.mark.parametrize("variance", [0.0, 1e-6, 1e-4, 0.4])
def test_the_slopes_are_those_of_the_likelihood_down_to_no_variance(variance):
    lives, at, step = lives_of(TINY), np.array([-0.2, 0.6, variance]), 1e-6
    _, slopes = lives.likelihood(at)
    for which in range(3):
        move = step * np.eye(3)[which]
        up = lives.likelihood(at + 2 * move)[0], lives.likelihood(at + move)[0]
        assert (4 * up[1] - up[0] - 3 * lives.likelihood(at)[0]) / (2 * step) == pytest.approx(slopes[which], rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("variance", [1e-3, 0.4, 3.0])
def test_the_second_slopes_are_those_of_the_slopes(variance):
    lives, at, step = lives_of(TINY), np.array([-0.2, 0.6, variance]), 1e-5
    moves = step * np.eye(3)
    by_steps = [(lives.likelihood(at - move)[1] - lives.likelihood(at + move)[1]) / (2 * step) for move in moves]
    assert lives.partial(at).information == pytest.approx(np.array(by_steps), rel=1e-5, abs=1e-5)


def test_known_truth_is_found_and_ignoring_it_takes_the_shape_down():
    (found,) = frailty(fleet(1, clusters=5000, each=2, variance=0.3), by=[])
    assert found.shape.estimate == pytest.approx(2, abs=0.06)
    assert found.scale.estimate == pytest.approx(500, rel=0.03)
    assert found.variance.low < 0.3 < found.variance.high
    assert found.shape_ignoring.high < 1.9
    assert found.log_likelihood - found.log_likelihood_ignoring > 20


@pytest.mark.parametrize("variance", [0.0, 0.5])
def test_limits_cover_the_truth(variance):
    hits = np.zeros(3)
    for seed in range(40):
        (found,) = frailty(fleet(seed, clusters=50, each=4, variance=variance), by=[])
        for place, (one, truth) in enumerate([(found.shape, 2), (found.scale, 500), (found.variance, variance)]):
            hits[place] += (one.low is None or one.low <= truth) and (one.high is None or truth <= one.high)
    assert hits.min() >= 34


def test_without_a_shared_fate_it_is_the_plain_fit():
    rows = fleet(4, clusters=40, each=3, variance=0)
    # Each cluster has one spell of each third of ages: they differ less than chance would have it.
    rows = rows.assign(entry=0.0).sort_values("at").reset_index(drop=True)
    rows["cluster"] = np.arange(len(rows)) % (len(rows) // 3)
    (found,) = frailty(rows, by=[])
    (plain,) = weibull(rows.assign(lower=rows["at"], upper=rows["at"].where(rows["is_failure"], np.inf)), by=[])
    assert (found.variance.estimate, found.variance.low) == (0, 0)
    assert found.shape.estimate == pytest.approx(plain.shape.estimate, rel=1e-6)
    assert found.log_likelihood == pytest.approx(plain.log_likelihood, rel=1e-9)


def test_counts_permuted_rows_and_rescaled_time_give_the_same():
    rows = fleet(6, clusters=40, each=6, variance=0.4)
    rows[["entry", "at"]] = np.column_stack([np.floor(rows["entry"] / 100), np.ceil(rows["at"] / 100) + 1])
    counted = rows.groupby(["cluster", "entry", "at", "is_failure"], as_index=False)["spell_count"].sum()
    counted = counted.sample(frac=1, random_state=1).assign(entry=lambda one: one["entry"] * 24, at=lambda one: one["at"] * 24)
    (one,), (other,) = frailty(rows, by=[]), frailty(counted, by=[])
    for name, factor in (("shape", 1), ("variance", 1), ("scale", 24)):
        mine, theirs = getattr(one, name), getattr(other, name)
        assert (mine.estimate * factor, mine.low * factor, mine.high * factor) == pytest.approx(
            (theirs.estimate, theirs.low, theirs.high), rel=1e-5, abs=1e-7
        )


def test_refusals_have_their_reason():
    rows = fleet(7, clusters=20, each=2, variance=0.3)
    assert frailty(rows.iloc[:0], by=["cluster"]) == []
    none = frailty(rows.assign(is_failure=False), by=[])[0]
    assert (none.because, none.variance.because) == (Because.NO_FAILURES, Because.NO_FAILURES)
    one = frailty(rows.assign(is_failure=np.arange(len(rows)) == 1), by=[])[0]
    assert one.because is Because.TOO_FEW_FAILURES
    alone = frailty(rows.assign(cluster=np.arange(len(rows))), by=[])[0]
    assert alone.because is Because.TOO_FEW_CLUSTERS
    assert alone.shape_ignoring.estimate is not None
    once = frailty(rows.assign(entry=0.0, at=5.0, is_failure=True), by=[])[0]
    assert once.because is Because.FIT_FAILED


def test_groups_come_apart_sorted():
    rows = fleet(8, clusters=60, each=3, variance=0.3).assign(family=lambda one: np.where(one["cluster"] < 30, "B", "A"))
    found = frailty(rows, by=["family"])
    assert [one.by for one in found] == [("A",), ("B",)]
    (alone,) = frailty(rows[rows["family"] == "B"], by=[])
    assert alone.variance.estimate == pytest.approx(found[1].variance.estimate, abs=1e-9)


@pytest.mark.parametrize("row", ["1 5 5 True 1", "1 6 5 True 1", "1 0 0 True 1", "1 0 nan True 1", "1 0 5 True -1"])
def test_a_spell_that_cannot_be_is_refused_in_words(row):
    with pytest.raises(InputError):
        frailty(table(f"cluster entry at is_failure spell_count\n1 0 9 True 1\n{row}"), by=[])


def test_a_variance_that_is_zero_but_for_rounding_is_zero():
    """Of 2,000 fleets without a factor, one whose likelihood rises at 0 by so little that no climb from afar finds its top."""
    rng = np.random.default_rng(np.random.SeedSequence([20_261_125, *b"shared_factor", 3000, 95]))
    paired_spells(rng, 20, 3000, variance=0.5)
    rows = paired_spells(rng, 20, 3000, variance=0.0)
    (fit,) = frailty(rows[rows["fleet"] == 7], by=["fleet"])
    assert (fit.because, fit.variance.estimate) == (None, 0.0)
    assert fit.shape.estimate == pytest.approx(fit.shape_ignoring.estimate)
