"""A hazard ratio that may change with age: against lifelines and our Cox fit, and in fleets whose curves do and do not cross."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from lifelines import CoxTimeVaryingFitter
from scipy.stats import t

from pipelines.estimates.alike import alike
from pipelines.estimates.ratio_by_age import ratio_by_age
from pipelines.estimates.regression import hazard_ratios
from pipelines.vocabulary import Because
from tests.estimates.batches_alike import SHAPE, fleet
from tests.estimates.spells import table


def untied(seed: int, **world) -> pd.DataFrame:
    """Return a fleet in which no two fail at one time."""
    rng = np.random.default_rng(seed)
    rows = fleet(rng, batch_size=60, rest_size=200, **world)
    return rows.assign(at=rows["at"] + rng.random(len(rows)) * 0.5)


def all_of(rows: pd.DataFrame):
    """Return the pair without a guard, so that (nearly) all failures are compared."""
    pair = alike(rows, min_at_risk=1)
    is_late = rows["at"] > pair.age[-1]
    return pair, rows.assign(at=np.minimum(rows["at"], pair.age[-1] + 1e-6), is_failure=rows["is_failure"] & ~is_late)


def test_the_one_ratio_is_that_of_coxs_fit_in_strata_with_limits_by_controller():
    pair, rows = all_of(untied(1, ratio=2.0))
    # cells with under three of the rest left are not compared, so those failures are taken out of both
    rows = rows[rows["cell"] < 2]
    pair = alike(rows, min_at_risk=3)
    rows = rows.assign(is_failure=rows["is_failure"] & (rows["at"] <= pair.age[-1]), level=np.where(rows["is_batch"], "b", "a"))
    assert pair.compared_failures + pair.rest_failures >= 0.97 * rows["is_failure"].sum()
    cox = hazard_ratios(rows, factors=["level"], strata=["cell"], cluster="cluster")
    (level,) = [one.ratio for one in cox.ratios if not one.is_reference]
    mine = ratio_by_age(pair).ratio
    theirs = level.estimate if {one.level for one in cox.ratios if one.is_reference} == {"a"} else 1 / level.estimate
    assert mine.estimate == pytest.approx(theirs, rel=0.02)
    width = np.log(mine.high / mine.low) / t.ppf(0.975, rows.loc[rows["is_batch"], "cluster"].nunique() - 1)
    assert width == pytest.approx(np.log(level.high / level.low) / 1.96, rel=0.05)


def test_the_change_with_age_is_that_of_a_covariate_that_runs_with_log_time():
    pair, rows = all_of(untied(2, shape_change=2.5)[lambda one: one["cell"] == 0])
    episodes = []
    for number, row in enumerate(rows.itertuples()):
        ends = pair.age[(pair.age > row.entry) & (pair.age <= row.at)]
        starts = np.append(row.entry, ends[:-1]) if len(ends) else ends
        for start, stop in zip(starts, ends, strict=True):
            failed = row.is_failure and stop == row.at
            episodes.append((number, start, stop, failed, float(row.is_batch), float(row.is_batch) * np.log(stop)))
    frame = pd.DataFrame(episodes, columns=["id", "start", "stop", "failed", "batch", "batch_log"])
    fit = CoxTimeVaryingFitter().fit(frame, id_col="id", event_col="failed", start_col="start", stop_col="stop")
    found = ratio_by_age(pair)
    assert found.change.estimate == pytest.approx(fit.params_["batch_log"], rel=1e-4)
    assert np.log(found.early.estimate) == pytest.approx(
        fit.params_["batch"] + fit.params_["batch_log"] * np.log(found.early_at), rel=1e-3
    )
    assert found.rates_cross.estimate == pytest.approx(np.exp(-fit.params_["batch"] / fit.params_["batch_log"]), rel=1e-3)


@pytest.mark.parametrize("world", [{}, {"ratio": 2.0}, {"ratio": 2.0, "index": 0.7}, {"index": 0.7}])
def test_where_one_ratio_holds_no_crossing_is_shown(world):
    rng = np.random.default_rng(3)
    found = [ratio_by_age(alike(fleet(rng, batch_size=100, rest_size=400, **world))) for _ in range(120)]
    assert sum(one.change_p < 0.05 for one in found) <= 13
    assert sum(one.rates_cross.high is not None and one.rates_cross.low is not None for one in found) <= 6
    assert np.mean([one.ratio.low <= world.get("ratio", 1.0) <= one.ratio.high for one in found]) > 0.89


@pytest.mark.parametrize("index", [1.0, 0.8])
def test_where_the_curves_cross_it_is_found_at_its_age(index):
    """The hazards cross at 400 h. Of the same worlds the curves cross where Λ is equal: (t/400)^(change) = (β + change)/β."""
    rng = np.random.default_rng(4)
    found = [ratio_by_age(alike(fleet(rng, batch_size=200, rest_size=500, shape_change=1.2, index=index))) for _ in range(80)]
    shown = [one for one in found if one.change_p < 0.05 and one.rates_cross.low and one.rates_cross.high]
    assert len(shown) >= 0.9 * len(found)
    assert np.mean([one.rates_cross.low <= 400 <= one.rates_cross.high for one in shown]) > 0.88
    assert np.mean([one.change.low <= 1.2 <= one.change.high for one in found]) > 0.88
    curves = 400 * ((SHAPE + 1.2) / SHAPE) ** (1 / 1.2)
    told = [one.curves_cross for one in found if one.curves_cross.low and one.curves_cross.high]
    assert len(told) >= 0.8 * len(found)
    assert np.mean([one.low <= curves <= one.high for one in told]) > 0.88


def test_too_few_failures_give_the_ratio_but_no_change_and_none_give_nothing():
    rows = [f"{side} a {number} 0 {20 + number} {number < 4} 1" for number in range(30) for side in (True, False)]
    found = ratio_by_age(alike(table("is_batch cell cluster entry at is_failure spell_count\n" + "\n".join(rows))))
    assert found.because is Because.TOO_FEW_FAILURES
    assert found.ratio.estimate == pytest.approx(1.0)
    assert found.ratio.low < 1 < found.ratio.high
    assert (found.change.estimate, found.change_p, found.rates_cross.because) == (None, None, Because.TOO_FEW_FAILURES)
    rows = [f"{side} a {number} 0 {20 + number} {number < 9 and not side} 1" for number in range(30) for side in (True, False)]
    found = ratio_by_age(alike(table("is_batch cell cluster entry at is_failure spell_count\n" + "\n".join(rows))))
    assert (found.because, found.ratio.because) == (Because.NO_FAILURES, Because.NO_FAILURES)


def test_all_failing_at_once_fix_no_change_with_age():
    rows = [f"{side} a {number} 0 9 True 1" for number in range(40) for side in (True, False)]
    found = ratio_by_age(alike(table("is_batch cell cluster entry at is_failure spell_count\n" + "\n".join(rows))))
    assert found.because is Because.FIT_FAILED
    assert found.ratio.estimate == pytest.approx(1.0)
