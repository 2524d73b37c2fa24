"""Batches at equal age against exact tails by convolution, closed forms and lifelines' stratified Cox model."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from lifelines import CoxPHFitter
from scipy.stats import norm

from pipelines.estimates.equal_age import Matched, batch_ratios, luck, matched
from pipelines.vocabulary import Because
from tests.estimates.cells import cells_of, made_spells, steps_of

ALL = np.ones(2, dtype=bool)


def test_ratios_and_their_limits_are_those_of_coxs_model():
    rng = np.random.default_rng(5)
    spells = made_spells(rng, batches=6, modules=4000, ratios=np.array([1, 1, 2.0, 1, 0.6, 1]))
    found = batch_ratios(matched(cells_of(spells, steps_of(spells, 200)), np.ones(6, dtype=bool)), np.ones(6))
    for batch, one in enumerate(found):
        frame = spells.assign(x=(spells["batch_no"] == batch).astype(float)).drop(columns="batch_no")
        fit = CoxPHFitter().fit(frame, "at", "is_failure", entry_col="entry", strata=["stratum_no"])
        assert np.log(one.ratio.estimate) == pytest.approx(fit.params_["x"], abs=0.03)
        width = np.log(one.ratio.high / one.ratio.low) / (2 * norm.ppf(0.975))
        assert width == pytest.approx(fit.standard_errors_["x"], rel=0.03)


def few(odds, failures, observed) -> Matched:
    odds, failures = np.array(odds, float), np.array(failures, float)
    zero = np.zeros(len(odds), dtype=int)
    chance = odds / (1 + odds)
    others = failures * (1 - chance)
    return Matched(zero, odds, failures, others, np.array([float(observed)]), np.array([failures @ chance]),
                   np.array([float(observed)]), np.array([True]))  # fmt: skip


def exact_tails(found: Matched, ratio: float) -> tuple[float, float]:
    """Return the mid-p chances of at most and of at least the observed count, by convolution."""
    law = np.ones(1)
    for odds, count in zip(found.odds, found.failures, strict=True):
        for _ in range(int(count)):
            law = np.convolve(law, [1 / (1 + ratio * odds), ratio * odds / (1 + ratio * odds)])
    seen = int(found.observed[0])
    return law[:seen].sum() + law[seen] / 2, law[seen + 1 :].sum() + law[seen] / 2


@pytest.mark.parametrize(
    ("odds", "failures", "observed"),
    [([0.2, 0.5, 1.1], [6, 9, 5], 8), ([0.05, 0.02], [40, 60], 6), ([0.3, 2.0], [12, 30], 30), ([0.1], [25], 2), ([1.0], [7], 6)],
)
def test_tails_are_close_to_the_exact_mid_p_ones(odds, failures, observed):
    found = few(odds, failures, observed)
    (one,) = batch_ratios(found, np.ones(1))
    low, high = exact_tails(found, 1.0)
    assert one.p_value == pytest.approx(2 * min(low, high), rel=0.06)
    assert exact_tails(found, one.ratio.high)[0] == pytest.approx(0.025, rel=0.08)
    assert exact_tails(found, one.ratio.low)[1] == pytest.approx(0.025, rel=0.08)


def test_a_batch_without_failures_has_an_upper_limit_that_is_exact_and_one_sided():
    found = few([0.5, 0.25], [6, 4], 0)
    (one,) = batch_ratios(found, np.ones(1))
    assert (one.because, one.ratio.estimate, one.ratio.low) == (Because.NO_FAILURES, 0.0, 0.0)
    assert (1 + 0.5 * one.ratio.high) ** -6 * (1 + 0.25 * one.ratio.high) ** -4 == pytest.approx(0.05, rel=1e-4)
    assert one.p_value == pytest.approx(1.5**-6 * 1.25**-4)


def test_a_batch_with_all_failures_has_a_lower_limit_alone():
    found = few([0.5], [6], 6)
    (one,) = batch_ratios(found, np.ones(1))
    assert (one.ratio.estimate, one.ratio.high, one.ratio.because) == (None, None, Because.LIMIT_NOT_REACHED)
    chance = 0.5 * one.ratio.low / (1 + 0.5 * one.ratio.low)
    assert chance**6 == pytest.approx(0.05, rel=1e-4)


@pytest.mark.parametrize("observed", [0, 2, 5, 6])
def test_what_others_would_have_had_is_their_rate_over_its_exposure(observed):
    (one,) = batch_ratios(few([0.5], [6], observed), np.ones(1))
    # the others' failures over twice its exposure; of none observed the share of the failures, as the log-rank test has it
    assert one.of_others == pytest.approx((6 - observed) * 0.5 if observed else 6 * 0.5 / 1.5, rel=1e-5)


def test_shared_controllers_widen_limits_by_the_root():
    found = few([0.2, 0.5], [80, 90], 60)
    (plain,), (wide,) = (batch_ratios(found, np.array([factor])) for factor in (1.0, 2.25))
    log = [np.log([one.ratio.low, one.ratio.estimate, one.ratio.high]) for one in (plain, wide)]
    assert np.diff(log[1]) == pytest.approx(1.5 * np.diff(log[0]), rel=0.03)
    assert norm.isf(wide.p_value / 2) == pytest.approx(norm.isf(plain.p_value / 2) / 1.5)
    assert (wide.information, luck(found, np.array([2.25]))[0]) == pytest.approx((plain.information / 2.25, wide.p_value))


def test_information_is_the_expected_failures_where_the_others_are_many():
    # a known law: others without end
    assert few([1e-6], [5e6], 5).information(2.0)[0] == pytest.approx(5, rel=1e-4)
    # as many others as modules of the batch: 80 % power at one-sided 5 % for a ratio of 2 takes 51 failures of both together
    # (Schoenfeld 1981: 4 · (1.645 + 0.842)² / ln² 2), and 10 are expected of a batch held against a known law
    half = few([1.0], [4 * 2.487**2 / np.log(2) ** 2 / 1.5], 0)
    assert half.information(2.0)[0] == pytest.approx(2.487**2 / (2 * (2 * np.log(2) - 1)), rel=0.07)


def test_nothing_beside_it_is_no_comparison_and_nothing_failed_is_said_apart():
    rows = pd.DataFrame({
        "stratum_no": [0, 0, 1, 2, 2], "batch_no": [0, 1, 2, 3, 4], "entry": 0.0, "at": [5.0, 9.0, 7.0, 9.0, 9.0],
        "is_failure": [True, False, True, False, False],
    })  # fmt: skip
    found = batch_ratios(matched(cells_of(rows, np.array([0.0, 10.0])), np.ones(5, dtype=bool)), np.ones(5))
    assert [one.because for one in found] == [
        None, Because.NO_FAILURES, Because.NO_COMPARISON, Because.NO_FAILURES, Because.NO_FAILURES
    ]  # fmt: skip
    assert found[0].ratio.because is Because.LIMIT_NOT_REACHED
    assert (found[1].ratio.estimate, found[3].ratio.estimate) == (0.0, None)


def test_a_chosen_reference_is_not_held_against_itself():
    spells = made_spells(np.random.default_rng(8), batches=2, modules=600, ratios=np.array([1.0, 2.0]))
    cells = cells_of(spells, steps_of(spells))
    against, other = (batch_ratios(matched(cells, which), np.ones(2)) for which in (np.array([True, False]), ALL))
    assert against[0].because is Because.NO_COMPARISON
    assert against[1] == other[1]
    assert np.log(other[0].ratio.estimate) == pytest.approx(-np.log(other[1].ratio.estimate), abs=1e-6)
