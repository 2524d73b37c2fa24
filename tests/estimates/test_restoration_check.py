"""The check of the law of ages: right laws pass, wrong ones do not, and causes that cleans do not act on are told apart."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.stats import chi2, kstest

from pipelines.estimates.restoration import RestorationFit, restoration
from pipelines.estimates.restoration_check import _OwnLaw, fit_p
from pipelines.estimates.restoration_gaps import chained, checked
from pipelines.estimates.restoration_likelihood import Likelihood
from pipelines.estimates.restoration_maximum import Model, top_of
from pipelines.vocabulary import Because
from tests.estimates.gaps import random_fleet
from tests.estimates.two_mechanisms import TRUTH, two_mechanism_fleet


def by_cause(gaps: pd.DataFrame) -> RestorationFit:
    cause = gaps["failed_by"].map({"contamination": True, "track_wear": False})
    return restoration(gaps.assign(is_counted=cause), by=[], horizon=200.0)[0]


def returned_at_once(gaps: pd.DataFrame, *, share: float) -> pd.DataFrame:
    """Return the gaps of which a share of those after cleans end in a failure within 15 hours."""
    rng = np.random.default_rng(4)
    hit = gaps["depth"].notna() & (rng.random(len(gaps)) < share)
    soon = np.minimum(rng.uniform(0.1, 15, len(gaps)), gaps["lower"])
    return gaps.assign(lower=gaps["lower"].where(~hit, soon), upper=gaps["upper"].where(~hit, soon))


@pytest.mark.parametrize("every", [None, 150.0], ids=["exact", "visited"])
def test_a_right_law_passes_but_for_one_in_a_hundred(every):
    values = [restoration(random_fleet(seed, controllers=40, every=every).gaps, by=[])[0].fit_p for seed in range(40)]
    assert kstest(values, "uniform").pvalue > 0.01
    # 40 fleets: more than 3 of them with a chance of 1 in 1,000
    assert sum(p < 0.01 for p in values) <= 3


def test_cleans_after_which_the_fault_is_back_at_once_are_refused():
    gaps = returned_at_once(random_fleet(7, controllers=80).gaps, share=0.25)
    fit = restoration(gaps, by=[], horizon=100.0)[0]
    assert fit.fit_p < 1e-6
    assert (fit.effects[0].restoration_share.because, fit.is_memory_told) == (Because.MODEL_UNFIT, False)
    assert fit.effects[0].holding_share.estimate is not None


def test_a_law_of_their_own_after_cleans_is_refused():
    """New again after each clean, but from then on with drift that does not depend on age."""
    gaps = random_fleet(8, controllers=80).gaps
    rng, after = np.random.default_rng(8), gaps["depth"].notna() & np.isfinite(gaps["upper"])
    failed = rng.exponential(gaps.loc[after, "lower"].mean(), len(gaps))
    fit = restoration(gaps.assign(lower=gaps["lower"].where(~after, failed), upper=gaps["upper"].where(~after, failed)), by=[])[0]
    assert fit.fit_p < 1e-4


def test_the_p_value_is_near_that_of_the_likelihood_ratio():
    """Of the three departures, climbed without slopes."""
    gaps = random_fleet(12, controllers=60).gaps
    chain = chained(checked(gaps))
    model = Model(Likelihood(chain, np.array([True])), np.array([np.nan]))
    top = top_of(model)
    own = _OwnLaw(chain, np.array([True]))
    free = Model(own, model.held)

    def down(place: np.ndarray) -> float:
        own.departure = place[:3]
        return -free.value_and_slopes(place[3:])[0]

    found = minimize(down, np.append(np.zeros(3), top.x), method="BFGS", options={"gtol": 1e-3})
    ratio = 2 * (-found.fun - top.value)
    assert fit_p(model, top) == pytest.approx(chi2.sf(ratio, 3), abs=0.03)


def test_what_a_clean_takes_off_the_dirt_is_told_where_wear_is_named():
    fits = [by_cause(two_mechanism_fleet(seed)) for seed in range(12)]
    for place, truth in enumerate(TRUTH):
        found = [fit.effects[place].restoration_share for fit in fits if fit.effects[place].restoration_share.because is None]
        assert len(found) >= 11
        assert np.mean([one.estimate for one in found]) == pytest.approx(truth, abs=0.06)
        assert sum(one.low <= truth <= one.high for one in found) >= len(found) - 3
    assert all(fit.failures > fit.failures_counted + fit.failures_unnamed > 0 for fit in fits)
    pooled = [restoration(two_mechanism_fleet(seed), by=[])[0].effects[2].restoration_share for seed in range(6)]
    assert max(one.estimate for one in pooled if one.because is None) < TRUTH[2] - 0.2


def test_wrong_findings_make_the_shares_too_low():
    """40 fleets with 12 % wrong: 0.08 to 0.09 too low; with 30 %, not run here, 0.09 to 0.21."""
    fits = [by_cause(two_mechanism_fleet(seed, wrong=0.12)) for seed in range(12)]
    for place, truth in enumerate(TRUTH):
        shares = [fit.effects[place].restoration_share.estimate for fit in fits]
        assert -0.12 < np.mean([share for share in shares if share is not None]) - truth < 0.02


def test_holding_is_of_failures_of_every_cause():
    gaps = two_mechanism_fleet(3)
    named, pooled = by_cause(gaps), restoration(gaps, by=[], horizon=200.0)[0]
    assert [one.holding_share for one in named.effects] == [one.holding_share for one in pooled.effects]


def test_counted_failures_too_few_leave_the_holding():
    gaps = two_mechanism_fleet(3)
    fit = restoration(gaps.assign(is_counted=False), by=[], horizon=200.0)[0]
    assert (fit.because, fit.failures_counted, fit.shape.because) == (None, 0, Because.NO_FAILURES)
    assert {one.restoration_share.because for one in fit.effects} == {Because.NO_FAILURES}
    assert all(one.holding_share.estimate for one in fit.effects)


@pytest.mark.parametrize(("named", "because"), [(0.4, Because.NO_CAUSES), (0.6, None)])
def test_no_share_is_told_where_most_causes_are_unknown_but_how_many_hold_is(named, because):
    fit = by_cause(two_mechanism_fleet(3, named=named))
    assert (fit.because, fit.shape.because) == (None, because)
    for one in fit.effects:
        assert (one.restoration_share.because, one.restoration_share.estimate is None) == (because, because is not None)
        assert one.holding_share.estimate is not None


def test_half_of_the_causes_are_enough():
    gaps = random_fleet(5, controllers=25, kept=(0.3, 0.8)).gaps
    failed = gaps.index[np.isfinite(gaps["upper"])]
    half = -(-len(failed) // 2)
    for named, because in ((half, None), (half - 1, Because.NO_CAUSES)):
        cause = pd.Series(None, index=gaps.index, dtype=object)
        cause[failed[:named]] = True
        assert restoration(gaps.assign(is_counted=cause), by=[])[0].shape.because is because


def test_all_counted_is_the_same_as_no_column():
    gaps = random_fleet(5, controllers=25, kept=(0.3, 0.8)).gaps
    assert restoration(gaps.assign(is_counted=True), by=[]) == restoration(gaps, by=[])


def test_other_failures_end_the_watch_halfway():
    rows = {"module": [1, 1, 1], "gap_number": [1, 2, 3], "cluster": [1, 1, 1], "depth": [None, "a", "a"], "entry": 0.0,
            "lower": [4.0, 6.0, 5.0], "upper": [8.0, 10.0, np.inf], "is_counted": [True, None, None]}  # fmt: skip
    chain = chained(checked(pd.DataFrame(rows)))
    counted = chain.only_counted()
    assert (counted.lower * chain.unit).tolist() == [4, 8, 5]
    assert (counted.upper * chain.unit).tolist() == [8, np.inf, np.inf]
    assert (chain.failures_of(1), chain.failures_of(-1), chain.failures_of(0)) == (1, 1, 0)
