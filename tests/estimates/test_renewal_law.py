"""Draws of how sticks drift: about the fit of `restoration`, its gates, causes, and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.renewal_law import RenewalLaw, renewal_laws
from pipelines.estimates.restoration import restoration
from pipelines.vocabulary import Because
from tests.estimates.gaps import random_fleet

FLEET = random_fleet(7, controllers=80, kept=(0.3, 0.7))


def law_of(gaps: pd.DataFrame, **words) -> RenewalLaw:
    (law,) = renewal_laws(gaps, by=[], **words)
    return law


def test_draws_lie_about_the_fit_and_hold_the_truth():
    law = law_of(FLEET.gaps)
    (fit,) = restoration(FLEET.gaps, by=[])
    assert (law.failures, law.gaps, law.modules, law.because) == (fit.failures, fit.gaps, fit.modules, None)
    assert law.shape.estimate == pytest.approx(fit.shape.estimate, rel=0.03)
    assert law.shape.low < 2.5 < law.shape.high
    assert np.median(law.scales) == pytest.approx(fit.scale, rel=0.03)
    for told, effect, kept in zip(law.depths, fit.effects, (0.3, 0.7), strict=True):
        assert (told.depth, told.cleans, told.because) == (effect.depth, effect.cleans, None)
        assert np.median(told.kept) == pytest.approx(1 - effect.restoration_share.estimate, abs=0.05)
        low, high = np.quantile(told.kept, [0.005, 0.995])
        assert low < kept < high
    assert len(law.shapes) == len(law.scales) == len(law.variances) == len(law.depths[0].kept)


def test_where_age_does_not_matter_no_share_is_told():
    law = law_of(random_fleet(2, shape=1.0, kept=(0.4,)).gaps)
    assert [one.because for one in law.depths] == [Because.RESTORATION_UNTOLD]
    assert law.shape.low < 1 < law.shape.high


def test_wear_beside_dirt_comes_at_a_rate_of_its_own():
    gaps = FLEET.gaps.copy()
    rng = np.random.default_rng(4)
    is_failure = np.isfinite(gaps["upper"]).to_numpy()
    gaps["is_counted"] = pd.Series(np.where(rng.random(len(gaps)) < 0.75, True, False), dtype=object)
    law = law_of(gaps)
    watched = (gaps["upper"].where(is_failure, gaps["lower"]) - gaps["entry"]).sum()
    others = int((is_failure & ~gaps["is_counted"].astype(bool)).sum())
    assert law.is_by_cause
    assert law.failures - law.failures_counted == others
    assert law.other_rate == pytest.approx(others / watched, rel=1e-6)


def test_faults_without_a_cause_are_of_both_kinds_alike():
    rng = np.random.default_rng(5)
    gaps, kind = FLEET.gaps.copy(), rng.random(len(FLEET.gaps)) < 0.7
    gaps["is_counted"] = pd.Series(kind, dtype=object)
    known = law_of(gaps)
    gaps["is_counted"] = gaps["is_counted"].where(rng.random(len(gaps)) < 0.8, None)
    partly = law_of(gaps)
    assert partly.failures_unnamed > 0
    assert partly.other_rate == pytest.approx(known.other_rate, rel=0.15)
    # as many faults of the law by any age, although a fifth of them is not named
    by_age = [(200 / one.scales) ** one.shapes for one in (known, partly)]
    assert np.median(by_age[1]) == pytest.approx(np.median(by_age[0]), rel=0.15)


def test_where_most_causes_are_blank_the_law_is_of_all_faults_and_tells_no_share():
    gaps = FLEET.gaps.assign(is_counted=pd.Series([None] * len(FLEET.gaps), dtype=object))
    law, whole = law_of(gaps), law_of(FLEET.gaps)
    assert {one.because for one in law.depths} == {Because.NO_CAUSES}
    assert (law.is_by_cause, law.other_rate, law.failures_counted) == (False, 0.0, law.failures)
    assert law.scales == pytest.approx(whole.scales)


def test_without_a_clean_there_is_a_law_and_no_depth():
    first = FLEET.gaps[FLEET.gaps["gap_number"] == 1]
    law = law_of(first)
    assert (law.because, law.depths) == (None, ())
    assert law.shape.low < 2.5 < law.shape.high


def test_rows_in_another_order_and_time_in_another_unit_give_the_same():
    law = law_of(FLEET.gaps)
    moved = law_of(FLEET.gaps.sample(frac=1, random_state=1))
    assert np.median(moved.shapes) == pytest.approx(np.median(law.shapes), rel=1e-6)
    slow = FLEET.gaps.assign(**{name: FLEET.gaps[name] * 24 for name in ("entry", "lower", "upper")})
    assert law_of(slow).scales == pytest.approx(24 * law.scales, rel=1e-6)


def test_groups_are_fitted_each_alone():
    other = random_fleet(9, controllers=40).gaps.assign(module=lambda one: one["module"] + 10_000, family="B")
    laws = renewal_laws(pd.concat([FLEET.gaps.assign(family="A"), other]), by=["family"])
    assert [one.by for one in laws] == [("A",), ("B",)]
    alone = law_of(FLEET.gaps)
    assert laws[0].shapes == pytest.approx(alone.shapes, rel=1e-6)


def test_refusals_are_values():
    few = law_of(random_fleet(3, controllers=2).gaps.head(6))
    assert (few.because, few.shapes, few.depths) == (Because.TOO_FEW_FAILURES, None, ())
    assert few.shape.because is Because.TOO_FEW_FAILURES
    unfailed = FLEET.gaps[FLEET.gaps["gap_number"] == 1].assign(upper=np.inf)
    assert law_of(unfailed).because is Because.NO_FAILURES
    at_once = FLEET.gaps[FLEET.gaps["gap_number"] == 1].assign(lower=50.0, upper=50.0)
    assert law_of(at_once).because is Because.FIT_FAILED
    assert renewal_laws(FLEET.gaps.head(0), by=["depth"]) == []
    with pytest.raises(InputError):
        renewal_laws(FLEET.gaps.drop(columns="entry"), by=[])
    with pytest.raises(InputError):
        renewal_laws(FLEET.gaps.assign(entry=1e9), by=[])


def test_a_law_that_does_not_hold_after_cleans_tells_no_share():
    broken = random_fleet(5, controllers=150, kept=(0.5,)).gaps
    rng = np.random.default_rng(1)
    soon = (broken["gap_number"] > 1) & np.isfinite(broken["upper"]) & (rng.random(len(broken)) < 0.35)
    broken.loc[soon, ["lower", "upper"]] = np.repeat(rng.uniform(1, 10, soon.sum())[:, None], 2, axis=1)
    law = law_of(broken)
    assert law.shape.low > 1
    assert [one.because for one in law.depths] == [Because.MODEL_UNFIT]
