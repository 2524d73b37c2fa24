"""A small, seeded part of the table, and whether the fleets and the scores are what they say."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from pipelines.estimates.estimate import Estimate
from tests.calibration.fleets import SHAPE, clustered_spells, spells, stable_factors, surviving, visited
from tests.calibration.parts import PARTS, SIZES, judged, made
from tests.calibration.score import Kind, Rule, Sample, scored, table

#: Part → fleets at 30 and at 300 failures.
SMALL = {
    "curve": (100, 50),
    "weibull": (400, 200),
    "lognormal": (400, 200),
    "fixed_shape": (400, 200),
    "turnbull": (60, 60),
    "incidence": (400, 200),
    "by_controller": (100, 60),
    "by_site": (100, 60),
    "proportion_by_site": (400, 200),
    "shared_factor": (6, 4),
    "families": (30, 30),
    "one_share": (2000, 2000),
    "durable": (400, 200),
    "pooled_cells": (30, 30),
    "standardised": (400, 200),
    "ratios": (6, 4),
    "repeated": (200, 100),
    "trends": (200, 100),
    "clocks": (200, 100),
    "cleans": (10, 10),
    "cleaning_interval": (8, 12),
    "forecast": (30, 20),
    "triage": (20, 15),
    "lot_bid": (20, 8),
    "family_ranks": (10, 6),
    "batches": (20, 10),
    "batch_alarm": (20, 20),
    "batch_pattern": (12, 8),
}


@pytest.mark.parametrize("part", SMALL)
def test_limits_hold_the_truth_in_a_few_fleets(part):
    for failures, fleets in zip(SIZES, SMALL[part], strict=False):
        for line in judged(failures, [made(part, failures, 0, fleets)]):
            assert line.verdict in ("holds", "not judged"), table([line])


def test_every_part_of_the_first_table_has_a_small_one():
    assert set(SMALL) == {name for name in PARTS if not name.startswith("real_")}


@pytest.mark.parametrize("part", ["real_lives", "real_families", "real_mechanisms", "real_repeated", "real_shares"])
def test_the_parts_of_the_second_table_run_and_give_estimates(part):
    lines = judged(300, [made(part, 300, 0, 4)])
    assert all(line.coverage is not None and line.refused == 0 for line in lines)


def test_a_part_is_the_same_whenever_it_is_made_and_its_chunks_differ():
    one, again, other = (made("fixed_shape", 30, chunk, 5)["true shape assumed: B10"].estimate for chunk in (0, 0, 1))
    assert (one == again).all()
    assert (one != other).all()
    assert sum(PARTS["triage"].chunks(300, 2000)) == 200


def test_spells_fail_as_the_law_says_and_visits_find_them_between_two():
    rows = spells(np.random.default_rng(1), 1, 30_000)
    early = rows[rows["entry"] == 0]
    watched = early[early["is_failure"] | (early["at"] >= 200)]
    assert (watched["at"] > 200).mean() == pytest.approx(surviving(200), abs=0.004)
    assert 25_000 < rows["is_failure"].sum() < 35_000
    seen = visited(spells(np.random.default_rng(2), 1, 3000, every=200), every=200)
    failed = seen[seen["is_failure"]]
    assert ((failed["lower"] < failed["at"]) & (failed["at"] <= failed["upper"])).all()
    assert (seen[["entry", "lower"]] % 200 == 0).all(axis=None)


def test_factors_are_stable_so_that_all_clusters_together_are_weibull():
    rng = np.random.default_rng(3)
    z = stable_factors(rng, 200_000, 0.8)
    for s in (0.3, 1.0, 3.0):
        assert np.exp(-s * z).mean() == pytest.approx(np.exp(-(s**0.8)), abs=0.004)
    rows = clustered_spells(rng, stable_factors(rng, (1, 26_250), 0.8), 30_000, shape=SHAPE / 0.8)
    early = rows[(rows["entry"] == 0) & (rows["is_failure"] | (rows["at"] >= 200))]
    assert (early["at"] > 200).mean() == pytest.approx(surviving(200), abs=0.005)


def test_the_interval_of_a_coverage_is_the_exact_binomial_one():
    sample = Sample.of([Estimate(1.0, 0.9, 1.1)] * 190 + [Estimate(1.3, 1.2, 1.4)] * 10, 1.0)
    line = scored("x", 30, sample)
    exact = binomtest(190, 200).proportion_ci(0.99, method="exact")
    assert (line.coverage, line.truth_below, line.truth_above) == (0.95, 0.05, 0.0)
    assert line.interval == pytest.approx((exact.low, exact.high))


def test_estimates_of_a_fleet_that_miss_together_count_as_fewer():
    hit, miss = Estimate(1.0, 0.9, 1.1), Estimate(2.0, 1.9, None)
    together = Sample.of([hit] * 380 + [miss] * 20, 1.0, fleet=np.repeat(np.arange(100), 4))
    alone = scored("x", 30, Sample.of([hit] * 95 + [miss] * 5, 1.0))
    assert scored("x", 30, together).interval == pytest.approx(alone.interval, abs=1e-9)


@pytest.mark.parametrize(
    ("hits", "refused", "rule", "verdict"),
    [
        (1900, 0, Rule.EXACT, "holds"),
        (1800, 0, Rule.EXACT, "covers too little"),
        (1990, 0, Rule.EXACT, "covers too much"),
        (1990, 0, Rule.AT_LEAST, "holds"),
        (1830, 0, Rule.DISCRETE, "holds"),
        (1900, 200, Rule.EXACT, "refuses too often"),
        (1900, 200, Rule.GATED, "holds"),
        (1780, 200, Rule.REAL, "under 90 %"),
        (1000, 0, Rule.SHOWN, "not judged"),
    ],
)
def test_a_line_is_judged_by_its_rule(hits, refused, rule, verdict):
    given = [Estimate(1.0, None, 1.1)] * hits + [Estimate(2.0, 1.9, None)] * (2000 - hits)
    line = scored("x", 300, Sample.of(given + [Estimate(None, None, None)] * refused, 1.0, Kind.SHARE, rule))
    assert line.verdict == verdict
    assert verdict in ("holds", "not judged") or verdict in table([line])
