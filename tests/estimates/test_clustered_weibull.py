"""Weibull limits by cluster: copies of one fate, independent spells, coverage of a fleet, refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.clustered_weibull import clustered_weibull
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, visited


def logs(one) -> tuple[float, float]:
    return np.log(one.estimate / one.low), np.log(one.high / one.estimate)


def test_independent_spells_keep_about_the_limits_of_the_likelihood_ratio():
    rows = random_spells(1, spells=2000).assign(cluster=lambda one: np.arange(len(one)))
    (found,), (fit,) = clustered_weibull(rows, by=[]), weibull(rows, by=[])
    assert found.design_effect == pytest.approx(1, abs=0.1)
    for name in ("shape", "b10", "median"):
        mine, plain = getattr(found, name), getattr(fit, name)
        assert mine.estimate == plain.estimate
        assert mine.low <= plain.low
        assert mine.high >= plain.high
        assert logs(mine) == pytest.approx(logs(plain), rel=0.1)


@pytest.mark.parametrize("is_visited", [False, True])
def test_copies_of_one_fate_tell_no_more_than_one(is_visited):
    rows = random_spells(2, spells=1500)
    rows = visited(rows, every=100) if is_visited else rows
    rows["cluster"] = np.arange(len(rows))
    (single,), (copied,) = weibull(rows, by=[]), clustered_weibull(rows.assign(spell_count=9), by=[])
    assert copied.design_effect == pytest.approx(9, rel=0.1)
    for name in ("shape", "b10", "median"):
        assert sum(logs(getattr(copied, name))) == pytest.approx(sum(logs(getattr(single, name))), rel=0.08)


def test_a_fleet_whose_clusters_differ_is_covered():
    """Uncensored Weibull lives whose clusters differ in scale alone by a positive stable factor stay Weibull."""
    rng, hits, plain_hits = np.random.default_rng(3), 0, 0
    alpha, shape = 0.8, 2.5
    for _ in range(120):
        # Chambers, Mallows & Stuck (1976): E exp(−s·z) = exp(−s^alpha); the shape is then alpha times as large.
        u, w = rng.uniform(0, np.pi, 25), rng.exponential(1, 25)
        z = np.sin(alpha * u) / np.sin(u) ** (1 / alpha) * (np.sin((1 - alpha) * u) / w) ** ((1 - alpha) / alpha)
        life = (rng.exponential(1, (25, 6)) / z[:, None]) ** (1 / shape)
        rows = random_spells(0, spells=1).iloc[[0] * 150].reset_index(drop=True)
        rows = rows.assign(entry=0.0, lower=life.ravel(), upper=life.ravel(), cluster=np.repeat(np.arange(25), 6))
        truth = (-np.log(0.9)) ** (1 / (alpha * shape))
        found, fit = clustered_weibull(rows, by=[])[0].b10, weibull(rows, by=[])[0].b10
        hits += found.low <= truth <= found.high
        plain_hits += fit.low <= truth <= fit.high
    assert hits >= 108
    assert plain_hits < hits


def test_refusals_have_their_reason():
    rows = random_spells(4, spells=200, groups=2).assign(cluster=lambda one: np.arange(len(one)) % 2)
    found = clustered_weibull(rows, by=["group"])
    assert [one.cluster_count for one in found] == [2, 2]
    assert {one.b10.because for one in found} == {Because.TOO_FEW_CLUSTERS}
    assert all(one.b10.estimate and one.b10.low is None and one.design_effect is None for one in found)
    none = clustered_weibull(rows.assign(upper=np.inf), by=[])[0]
    assert (none.because, none.shape.because) == (Because.NO_FAILURES, Because.NO_FAILURES)
    once = rows.assign(entry=0.0, lower=5.0, upper=5.0, cluster=np.arange(len(rows)) % 9)
    assert clustered_weibull(once, by=[])[0].because is Because.FIT_FAILED
    assert clustered_weibull(rows.iloc[:0], by=["group"]) == []
    with pytest.raises(InputError, match="cluster"):
        clustered_weibull(rows.drop(columns="cluster"), by=[])


def test_likeness_is_one_for_single_spells_and_two_for_each_spell_twice():
    rng = np.random.default_rng(8)
    lives, n = 500 * rng.weibull(2.0, 300), 300
    spells = pd.DataFrame({
        "cluster": np.arange(n), "entry": 0.0, "lower": np.minimum(lives, 400.0), "upper": np.where(lives <= 400, lives, np.inf),
        "spell_count": 1,
    })  # fmt: skip
    single = clustered_weibull(spells, by=[])[0]
    assert single.likeness == pytest.approx(n / (n - 1))
    twice = clustered_weibull(pd.concat([spells, spells]), by=[])[0]
    assert twice.likeness == pytest.approx(2 * n / (n - 1))
    assert np.array(twice.covariance) == pytest.approx(np.array(single.covariance), rel=1e-6)
