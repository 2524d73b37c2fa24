"""Hazard and life ratios: against lifelines on rows, known truth, pooled levels, and refusals in words."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates import lifelines_start
from pipelines.estimates.regression import hazard_ratios, life_ratios
from pipelines.vocabulary import Because
from tests.estimates.spells import table

FITS = [hazard_ratios, life_ratios]


def fleet(seed: int, *, spells: int = 600, late_share: float = 0.3, shape: float = 1.8) -> pd.DataFrame:
    """Return counted spells by family, usage and controller; heavy use has a hazard 2.5 times that of light use."""
    rng = np.random.default_rng(seed)
    rows = pd.DataFrame({
        "family": rng.choice(["A", "B", "C"], spells, p=[0.5, 0.3, 0.2]), "usage": rng.choice(["light", "heavy"], spells),
        "cluster": rng.integers(0, spells // 2, spells), "spell_count": rng.integers(1, 3, spells),
    })  # fmt: skip
    life = 500 * rng.weibull(shape, spells) / 2.5 ** (rows["usage"].eq("heavy") / shape)
    entry = np.where(rng.random(spells) < late_share, np.floor(rng.uniform(0, 200, spells)), 0)
    last = np.ceil(entry + rng.uniform(50, 900, spells))
    rows = rows.assign(entry=entry, at=np.minimum(np.ceil(life), last), is_failure=np.ceil(life) <= last)
    rows = rows[rows["entry"] < rows["at"]].reset_index(drop=True)
    return rows.assign(lower=rows["at"], upper=rows["at"].where(rows["is_failure"], np.inf))


def ratios(fit) -> dict:
    return {(one.factor, one.level): one.ratio for one in fit.ratios}


def dummies(rows: pd.DataFrame, fit) -> tuple[pd.DataFrame, list]:
    """Return the rows spelt out as lifelines wants them, and which ratio each column is."""
    place = np.repeat(np.arange(len(rows)), rows["spell_count"])
    rows = rows.iloc[place].reset_index(drop=True)
    keys = [(one.factor, one.level) for one in fit.ratios if not one.is_reference]
    return pd.DataFrame({f"{f}_{level}": rows[f].eq(level).astype(float) for f, level in keys}).assign(
        entry=rows["entry"], at=rows["at"], is_failure=rows["is_failure"]
    ), keys  # fmt: skip


@pytest.mark.parametrize("is_large", [False, True])
def test_hazard_ratios_of_counts_are_those_of_lifelines_on_rows(monkeypatch, is_large):
    if is_large:
        monkeypatch.setattr(lifelines_start, "ROWS_AT_MOST", 0)
    rows = fleet(1)
    fit = hazard_ratios(rows, factors=["family", "usage"])
    frame, keys = dummies(rows, fit)
    options = {"precision": 1e-12, "r_precision": 1e-15}
    theirs = lifelines.CoxPHFitter().fit(frame, "at", "is_failure", entry_col="entry", fit_options=options)
    assert [ratios(fit)[key].estimate for key in keys] == pytest.approx(theirs.hazard_ratios_.tolist(), rel=1e-7)
    limits = np.exp(theirs.confidence_intervals_.to_numpy())
    assert [(ratios(fit)[key].low, ratios(fit)[key].high) for key in keys] == pytest.approx(limits, rel=1e-6)
    assert fit.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-10)


@pytest.mark.parametrize("is_large", [False, True])
def test_life_ratios_of_counts_are_those_of_lifelines_on_rows(monkeypatch, is_large):
    if is_large:
        monkeypatch.setattr(lifelines_start, "ROWS_AT_MOST", 0)
    rows = fleet(2)
    fit = life_ratios(rows, factors=["family", "usage"])
    frame, keys = dummies(rows, fit)
    theirs = lifelines.WeibullAFTFitter().fit(frame, "at", "is_failure", entry_col="entry")
    found = [np.log(ratios(fit)[key].estimate) for key in keys]
    expected = theirs.params_["lambda_"][[f"{factor}_{level}" for factor, level in keys]]
    assert found == pytest.approx(expected.tolist(), abs=2e-6)
    assert fit.shape.estimate == pytest.approx(np.exp(theirs.params_["rho_"]["Intercept"]), rel=1e-5)
    assert fit.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-9)


def test_failures_found_between_visits_give_the_life_ratios_of_lifelines():
    rows = fleet(3, late_share=0)
    visit = 100.0
    before = np.ceil(rows["at"] / visit - 1) * visit
    rows["lower"] = rows["at"].where(~rows["is_failure"], before)
    rows["upper"] = np.where(rows["is_failure"], before + visit, np.inf)
    fit = life_ratios(rows, factors=["usage"])
    frame, keys = dummies(rows, fit)
    place = np.repeat(np.arange(len(rows)), rows["spell_count"])
    frame = frame.drop(columns=["entry", "at", "is_failure"]).assign(
        lower=rows["lower"].to_numpy()[place], upper=rows["upper"].to_numpy()[place]
    )
    theirs = lifelines.WeibullAFTFitter().fit_interval_censoring(frame, "lower", "upper")
    assert np.log(ratios(fit)[keys[0]].estimate) == pytest.approx(theirs.params_["lambda_"].iloc[0], abs=1e-5)
    assert fit.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-9)


def test_a_known_ratio_is_covered_by_its_limits(monkeypatch):
    monkeypatch.setattr(lifelines_start, "ROWS_AT_MOST", 0)
    hits, logs = 0, []
    for seed in range(60):
        fit = hazard_ratios(fleet(100 + seed, spells=150).assign(spell_count=1), factors=["usage"])
        (one,) = (one for one in fit.ratios if not one.is_reference)
        truth = 2.5 if one.level == "heavy" else 1 / 2.5
        hits += one.ratio.low <= truth <= one.ratio.high
        logs.append(abs(np.log(one.ratio.estimate)))
    assert 53 <= hits <= 60
    assert np.mean(logs) == pytest.approx(np.log(2.5), abs=0.1)


@pytest.mark.parametrize("fit", FITS)
def test_limits_widen_where_the_spells_of_a_controller_share_its_fate(fit):
    rows = fleet(5).assign(spell_count=8)
    rows["cluster"] = np.arange(len(rows))
    plain, clustered = fit(rows, factors=["usage"]), fit(rows, factors=["usage"], cluster="cluster")
    width = {name: np.log(one.ratio.high / one.ratio.low) for name, found in (("p", plain), ("c", clustered))
             for one in found.ratios if not one.is_reference}  # fmt: skip
    # Eight copies of one fate tell as much as one: errors √8 times as wide.
    assert width["c"] / width["p"] == pytest.approx(np.sqrt(8), rel=0.15)
    assert clustered.cluster_count == len(rows)


@pytest.mark.parametrize("fit", FITS)
def test_two_clusters_give_ratios_without_limits(fit):
    rows = fleet(6)
    found = fit(rows.assign(cluster=rows["cluster"] % 2), factors=["usage"], cluster="cluster")
    (one,) = (one.ratio for one in found.ratios if not one.is_reference)
    assert one.estimate is not None
    assert (one.low, one.high, one.because) == (None, None, Because.TOO_FEW_CLUSTERS)


@pytest.mark.parametrize("fit", FITS)
def test_permuted_rows_and_rescaled_time_give_the_same_ratios(fit):
    rows = fleet(7)
    scaled = rows.sample(frac=1, random_state=1)
    scaled = scaled.assign(**{name: scaled[name] / 24 for name in ("entry", "at", "lower", "upper")})
    one, other = (ratios(fit(frame, factors=["family", "usage"], cluster="cluster")) for frame in (rows, scaled))
    assert one.keys() == other.keys()
    for key, ratio in one.items():
        assert (ratio.estimate, ratio.low, ratio.high) == pytest.approx(
            (other[key].estimate, other[key].low, other[key].high), rel=1e-7
        )


@pytest.mark.parametrize("fit", FITS)
def test_rare_levels_are_pooled_and_said(fit):
    rows = fleet(8)
    rows.loc[rows.index[:40], "family"] = [f"rare{number}" for number in range(10)] * 4
    found = fit(rows, factors=["family"], min_failures=12)
    pool = found.ratios[-1]
    assert (pool.level, len(pool.pooled), pool.is_reference) == ("other", 10, False)
    assert pool.spell_count == rows.loc[rows.index[:40], "spell_count"].sum()
    assert pool.ratio.low < 1 < pool.ratio.high
    assert [one.level for one in found.ratios if one.is_reference] == ["A"]
    assert sum(one.spell_count for one in found.ratios) == found.spell_count


@pytest.mark.parametrize("fit", FITS)
def test_a_level_without_a_failure_changes_nothing_for_the_others(fit):
    rows = fleet(9)
    extra = rows[:30].assign(family="D", is_failure=False, upper=np.inf)
    with_it = fit(pd.concat([rows, extra], ignore_index=True), factors=["family"])
    without = ratios(fit(rows, factors=["family"]))
    assert ratios(with_it)[("family", "D")].because is Because.NO_FAILURES
    assert ratios(with_it)[("family", "C")].estimate == pytest.approx(without[("family", "C")].estimate, rel=1e-8)


@pytest.mark.parametrize("fit", FITS)
def test_a_level_with_too_few_failures_has_no_ratio(fit):
    rows = fleet(10)
    rows.loc[rows.index[rows["is_failure"]][:2], "family"] = "D"
    found = fit(rows, factors=["family"])
    assert ratios(found)[("family", "D")].because is Because.TOO_FEW_FAILURES
    assert found.because is None


@pytest.mark.parametrize("fit", FITS)
def test_a_null_is_a_level_of_its_own(fit):
    rows = fleet(11)
    rows["family"] = rows["family"].astype(object).where(rows["family"] != "C", None)
    assert ratios(fit(rows, factors=["family"]))[("family", None)].estimate > 0


@pytest.mark.parametrize("fit", FITS)
def test_columns_that_always_go_together_are_refused_by_name(fit):
    rows = fleet(12)
    rows["sensor"] = rows["family"].map({"A": "pot", "B": "hall", "C": "pot"})
    found = fit(rows, factors=["usage", "family", "sensor"])
    assert found.because is Because.CONFOUNDED
    assert found.at_fault == ("family", "sensor")
    assert {one.ratio.because for one in found.ratios} == {Because.CONFOUNDED}


def test_a_factor_that_is_constant_within_strata_is_refused():
    rows = fleet(13)
    found = hazard_ratios(rows.assign(site=rows["family"]), factors=["family", "usage"], strata=["site"])
    assert (found.because, found.at_fault) == (Because.CONFOUNDED, ("family",))


def test_strata_give_the_stratified_fit_of_lifelines():
    rows = fleet(14)
    fit = hazard_ratios(rows, factors=["usage"], strata=["family"])
    frame, keys = dummies(rows, fit)
    frame["family"] = rows["family"].to_numpy()[np.repeat(np.arange(len(rows)), rows["spell_count"])]
    options = {"precision": 1e-12, "r_precision": 1e-15}
    theirs = lifelines.CoxPHFitter().fit(
        frame, "at", "is_failure", entry_col="entry", strata=["family"], fit_options=options
    )  # fmt: skip
    assert ratios(fit)[keys[0]].estimate == pytest.approx(theirs.hazard_ratios_.iloc[0], rel=1e-7)


def test_a_level_that_always_fails_first_is_refused_as_separated():
    rows = table("""
        family entry at is_failure spell_count
        A      0     1  True       4
        A      0     2  True       4
        B      0     5  True       4
        B      0     6  True       4
        """)
    found = hazard_ratios(rows, factors=["family"])
    assert (found.because, found.at_fault) == (Because.SEPARATED, ("family",))


@pytest.mark.parametrize("fit", FITS)
def test_one_level_is_nothing_to_compare(fit):
    rows = fleet(15).assign(site="here")
    alone = fit(rows, factors=["site"])
    assert (alone.because, alone.one_level) == (Because.ONE_LEVEL, ("site",))
    beside = fit(rows, factors=["site", "usage"])
    assert (beside.because, beside.one_level) == (None, ("site",))
    assert ratios(beside)[("site", "here")].because is Because.ONE_LEVEL


@pytest.mark.parametrize("fit", FITS)
def test_too_little_is_refused_with_its_reason(fit):
    rows = fleet(16)
    none = rows.assign(is_failure=False, upper=np.inf)
    assert fit(none, factors=["usage"]).because is Because.NO_FAILURES
    assert fit(rows.iloc[:0], factors=["usage"]).because is Because.NO_SPELLS
    first = rows["is_failure"].cumsum() <= 1
    few = rows.assign(is_failure=rows["is_failure"] & first, upper=rows["upper"].where(first, np.inf), spell_count=1)
    assert fit(few, factors=["usage"]).because is Because.TOO_FEW_FAILURES


def test_all_failed_at_one_age_fix_no_shape_and_no_hazard_ratio_but_one():
    rows = fleet(17).assign(entry=0.0, at=5.0, is_failure=True, lower=5.0, upper=5.0)
    assert life_ratios(rows, factors=["usage"]).because is Because.FIT_FAILED
    found = hazard_ratios(rows, factors=["usage"])
    assert found.because in (None, Because.SEPARATED, Because.CONFOUNDED)


@pytest.mark.parametrize("fit", FITS)
@pytest.mark.parametrize("bad", [{"entry": 9.0}, {"at": np.nan, "lower": np.nan}, {"entry": -1.0}, {"spell_count": 1.5}])
def test_a_spell_that_cannot_be_is_refused_in_words(fit, bad):
    rows = table("family entry at is_failure spell_count lower upper\nA 0 5 True 1 5 5\nB 0 9 True 1 9 9")
    rows = rows.astype({"entry": float, "at": float, "lower": float, "spell_count": float})
    for name, value in bad.items():
        rows.loc[0, name] = value
    with pytest.raises(InputError):
        fit(rows, factors=["family"])


@pytest.mark.parametrize("fit", FITS)
def test_a_missing_column_is_named(fit):
    with pytest.raises(InputError, match="site"):
        fit(fleet(18), factors=["site"])
    with pytest.raises(InputError, match="entry"):
        fit(fleet(18).drop(columns="entry"), factors=["usage"])


@pytest.mark.parametrize("fit", FITS)
def test_a_thousand_levels_are_an_answer(fit):
    rows = fleet(19, spells=3000)
    rows["unit"] = np.arange(len(rows)) % 1000
    found = fit(rows, factors=["unit", "usage"])
    assert found.because is None
    assert ratios(found)[("usage", "heavy")] is not None
