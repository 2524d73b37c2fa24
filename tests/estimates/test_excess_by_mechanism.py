"""Which mechanism an excess comes from: by hand, in fleets of known truth, and what is refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import gamma, poisson

from pipelines.estimates.alike import alike
from pipelines.estimates.excess_by_mechanism import excess_by_mechanism
from pipelines.vocabulary import Because
from tests.estimates.batches_alike import fleet
from tests.estimates.spells import table


def named(rng, *, ratio: float = 1.0, blank: float = 0.0, index: float = 1.0) -> pd.DataFrame:
    """Return a fleet of which four in ten faults are dust; the batch has `ratio` times as much wear, the other six.

    (At a ratio of r the batch fails 0.4 + 0.6 r times as often, and of its faults 0.4 over that are dust.)
    """
    more = 0.4 + 0.6 * ratio
    rows = fleet(rng, batch_size=200, rest_size=800, ratio=more, index=index)
    chance = np.where(rows["is_batch"], 0.4 / more, 0.4)
    found = np.where(rng.random(len(rows)) < chance, "dust", "wear").astype(object)
    found[rng.random(len(rows)) < blank] = None
    return rows.assign(failed_by=np.where(rows["is_failure"], found, None))


def test_the_excess_is_counted_against_the_rest_in_each_cell():
    failed = [("True", 4, "wear")] * 2 + [("False", 5, "wear"), ("False", 6, "dust")]
    lines = [f"{side} a {at} True {mechanism}" for side, at, mechanism in failed] + ["True a 30 False nan"] * 18
    lines += ["False a 30 False nan"] * 38
    rows = table("is_batch cell at is_failure failed_by\n" + "\n".join(lines))
    rows = rows.assign(entry=0, cluster=np.arange(len(rows)), spell_count=1)
    wear, dust = excess_by_mechanism(alike(rows, min_at_risk=1)).mechanisms
    assert (wear.mechanism, wear.failures, wear.rest_failures) == ("wear", 2, 1)
    assert wear.expected == pytest.approx(18 / 40)
    assert wear.excess.estimate == pytest.approx(2 - 18 / 40)
    assert (dust.expected, dust.failures) == (pytest.approx(18 / 39), 0)
    low, high = dust.excess.low, dust.excess.high
    assert low < dust.excess.estimate < 0 < high
    # Fay & Feuer: the upper limit of a weighted count, one failure of the largest weight more
    expected, largest = 18 / 40, 20 / 40
    mean, variance = expected + largest, expected**2 + largest**2
    limit = gamma.ppf(0.975, mean**2 / variance) * variance / mean
    below = np.hypot(2 - wear_low(2), limit - expected)
    # (what controllers share is estimated, and adds a little here)
    assert wear.excess.low <= wear.excess.estimate - below + 1e-4
    assert wear.excess.low == pytest.approx(wear.excess.estimate - below, rel=0.03)


def wear_low(count: int) -> float:
    """Return Garwood's lower limit, from the law itself."""
    grid = np.linspace(0, count, 200_001)
    return float(grid[np.searchsorted(poisson.sf(count - 1, grid), 0.025)])


def test_where_all_is_alike_a_source_is_named_in_few_fleets():
    rng = np.random.default_rng(1)
    for index in (1.0, 0.7):
        found = [excess_by_mechanism(alike(named(rng, index=index))) for _ in range(120)]
        assert sum(any(one.is_source for one in fleet.mechanisms) for fleet in found) <= 9
        held = [one.excess.low <= 0 <= one.excess.high for fleet in found for one in fleet.mechanisms]
        assert np.mean(held) > 0.91


def test_the_mechanism_that_is_worse_is_named_and_the_other_is_not():
    rng = np.random.default_rng(2)
    found = [excess_by_mechanism(alike(named(rng, ratio=2.5))) for _ in range(40)]
    by_name = [{one.mechanism: one for one in fleet.mechanisms} for fleet in found]
    assert np.mean([one["wear"].is_source for one in by_name]) > 0.95
    assert np.mean([one["dust"].is_source for one in by_name]) < 0.1
    assert np.mean([one["wear"].ratio.low <= 2.5 <= one["wear"].ratio.high for one in by_name]) > 0.85
    assert all(fleet.mechanisms[0].mechanism == "wear" for fleet in found)


def test_a_mechanism_that_the_rest_never_had_is_a_source_without_a_ratio():
    rows = named(np.random.default_rng(3))
    is_new = rows["is_batch"] & (rows["failed_by"] == "wear")
    first = excess_by_mechanism(alike(rows.assign(failed_by=rows["failed_by"].mask(is_new, "spring")))).mechanisms[0]
    assert (first.mechanism, first.is_source, first.expected, first.ratio.because) == ("spring", True, 0.0, Because.NO_FAILURES)
    assert 0 < first.excess.low < first.excess.estimate == first.failures


def test_faults_without_a_mechanism_are_counted_and_too_many_of_them_refused():
    rng = np.random.default_rng(4)
    found = excess_by_mechanism(alike(named(rng, blank=0.3)))
    blank = next(one for one in found.mechanisms if one.mechanism == "not_recorded")
    assert (blank.p_value, blank.p_adjusted, blank.is_source) == (None, None, False)
    assert found.batch_recorded + blank.failures == sum(one.failures for one in found.mechanisms)
    refused = excess_by_mechanism(alike(named(rng, blank=0.7)))
    assert (refused.because, refused.mechanisms) == (Because.NO_CAUSES, ())
    pair = alike(table("is_batch cell cluster entry at is_failure spell_count\nTrue a 1 0 9 False 1\nFalse a 2 0 9 False 1"))
    assert excess_by_mechanism(pair).because is Because.NO_FAILURES
