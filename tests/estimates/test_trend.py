"""Trend of recurrent failures: closed forms, a direct likelihood with late entry, and false alarms on fleets without one."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.optimize import minimize

from pipelines.estimates.trend import TrendVerdict, trend
from pipelines.vocabulary import Because
from tests.estimates.recurrences import random_units
from tests.estimates.spells import table


def only(events: pd.DataFrame, units: pd.DataFrame, **rest):
    (found,) = trend(events, units, by=[], **rest)
    return found


def alike(ages: list[float], *, exit_at: float, units: int = 1) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Spread the ages over units all watched from 0."""
    events = pd.DataFrame({"unit": np.arange(len(ages)) % units, "at": np.array(ages, dtype=float)})
    return events, pd.DataFrame({"unit": range(units), "entry": 0.0, "exit": float(exit_at)})


def test_units_watched_alike_have_the_closed_form():
    ages = [3, 40, 61, 75, 75, 88, 97]
    found = only(*alike(ages, exit_at=100, units=3))
    logs = np.log(100 / np.array(ages)).sum()
    assert found.shape.estimate == pytest.approx(7 / logs, rel=1e-9)
    assert found.shape.low == pytest.approx(stats.chi2.ppf(0.025, 14) / (2 * logs), rel=1e-9)
    assert found.shape.high == pytest.approx(stats.chi2.ppf(0.975, 14) / (2 * logs), rel=1e-9)
    assert 3 * (100 / found.scale) ** found.shape.estimate == pytest.approx(7, rel=1e-9)
    assert found.military_chi2 == pytest.approx(2 * logs)
    assert found.laplace_z == pytest.approx((np.mean(ages) - 50) / (100 / np.sqrt(12 * 7)))
    assert found.p_value == pytest.approx(2 * stats.norm.sf(abs(found.laplace_z)))
    assert found.robust_z is None


def test_with_late_entry_the_shape_is_at_the_top_of_the_likelihood_and_its_error_is_of_its_curvature():
    events, units = random_units(5, units=60, shape=1.6, late_share=0.5)
    found = only(events, units)

    def loss(theta):
        shape, scale = np.exp(theta)
        mean = (units["exit"] / scale) ** shape - (units["entry"] / scale) ** shape
        return mean.sum() - (np.log(shape / scale) + (shape - 1) * np.log(events["at"] / scale)).sum()

    top = minimize(loss, [0.2, 6.0], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-10, "maxiter": 5000})
    assert (found.shape.estimate, found.scale) == pytest.approx(np.exp(top.x), rel=1e-6)
    assert found.log_likelihood == pytest.approx(-top.fun, rel=1e-9)
    near = only(events, units.assign(entry=units["entry"].clip(lower=1e-9)))
    assert near.shape.estimate == pytest.approx(found.shape.estimate, rel=1e-6)

    def at_best_scale(log_shape):
        return minimize(lambda log_scale: loss([log_shape, log_scale[0]]), top.x[1:], method="Nelder-Mead", tol=1e-10).fun

    told = (at_best_scale(top.x[0] + 0.01) + at_best_scale(top.x[0] - 0.01) - 2 * top.fun) / 0.01**2
    limits = [found.shape.estimate * stats.chi2.ppf(tail, 2 * told) / (2 * told) for tail in (0.025, 0.975)]
    assert (found.shape.low, found.shape.high) == pytest.approx(limits, rel=1e-4)


@pytest.mark.parametrize(
    ("ages", "robust_z", "careful_z", "verdict"),
    [
        # By hand: one failure each in 10 days; the sum over the root of squares, and over the root of 10 · 10² / 12.
        ([9.5] * 8 + [0.5] * 2, 6 / np.sqrt(10), 6 / np.sqrt(10), TrendVerdict.NO_TREND_SHOWN),
        ([5.8] * 10, np.sqrt(10), 8 / np.sqrt(1000 / 12), TrendVerdict.NO_TREND_SHOWN),
        ([9.0] * 10, np.sqrt(10), np.sqrt(10), TrendVerdict.GETTING_MORE_FREQUENT),
        ([9.5] * 7 + [0.5] * 2, None, 22.5 / np.sqrt(900 / 12), TrendVerdict.GETTING_MORE_FREQUENT),
    ],
)
def test_the_verdict_is_by_the_more_careful_of_two_tests_from_ten_failed_units_on(ages, robust_z, careful_z, verdict):
    found = only(*alike(ages, exit_at=10, units=len(ages)))
    assert found.robust_z == (None if robust_z is None else pytest.approx(robust_z))
    assert found.p_value == pytest.approx(2 * stats.norm.sf(careful_z))
    assert found.verdict is verdict
    if found.p_value < 0.5:
        assert only(*alike(ages, exit_at=10, units=len(ages)), level=0.5).verdict is TrendVerdict.GETTING_MORE_FREQUENT


@pytest.mark.parametrize("units", [1, 3])
def test_a_watch_ended_by_its_last_failure_is_tested_as_one_that_ended_just_then_without_it(units):
    ages, last = [3, 40, 61, 75, 75, 88], [97] * units
    events, watches = alike([*ages, *last], exit_at=97, units=units)
    found = only(events, watches.assign(is_ended_by_failure=True))
    other = only(*alike(ages, exit_at=97, units=units))
    assert (found.failures, found.tested) == (6 + units, 6)
    assert (found.laplace_z, found.military_chi2) == pytest.approx((other.laplace_z, other.military_chi2))


def test_a_late_start_of_nearly_nothing_changes_nothing():
    # Then the curvature tells as many failures as there are.
    events, units = alike([3, 40, 61, 75, 75, 88, 97], exit_at=100)
    late = only(events, units.assign(entry=1e-12)).shape
    exact = only(events, units).shape
    assert (late.low, late.estimate, late.high) == pytest.approx((exact.low, exact.estimate, exact.high), rel=1e-4)


@pytest.mark.parametrize(
    ("shape", "verdict"),
    [(2.2, TrendVerdict.GETTING_MORE_FREQUENT), (0.5, TrendVerdict.GETTING_RARER), (1.0, TrendVerdict.NO_TREND_SHOWN)],
)
def test_a_plain_trend_is_told(shape, verdict):
    assert only(*random_units(11, units=80, shape=shape)).verdict is verdict


@pytest.mark.parametrize("spread", [0.0, 1.5])
def test_fleets_without_a_trend_seldom_alarm_even_where_units_differ(spread):
    found = [only(*random_units(seed, units=30, spread=spread)) for seed in range(300)]
    # Binomial 99 % band around 5 % at 300 fleets.
    assert np.mean([one.verdict is not TrendVerdict.NO_TREND_SHOWN for one in found]) <= 0.083
    military = np.mean([one.military_p < 0.05 for one in found])
    assert 0.017 <= military <= 0.083


def test_the_limits_of_the_shape_cover_where_units_are_alike_and_enter_late():
    held = []
    for seed in range(300):
        shape = only(*random_units(seed, units=25, shape=1.5, late_share=0.5)).shape
        held.append(shape.low <= 1.5 <= shape.high)
    assert 0.917 <= np.mean(held) <= 0.983


def test_failures_that_come_in_bursts_do_not_pass_for_a_trend():
    alarms = []
    for seed in range(200):
        events, units = random_units(seed, units=40, late_share=0.0)
        # Each failure comes back twice within days: five times the information at first sight, none in truth.
        again = pd.concat([events.assign(at=events["at"] + step) for step in (0, 2, 5)])
        again = again[again["at"] <= again["unit"].map(units["exit"])]
        alarms.append(only(again, units).verdict is not TrendVerdict.NO_TREND_SHOWN)
    assert np.mean(alarms) <= 0.1


def test_a_unit_taken_out_for_its_last_failure_does_not_make_failures_look_late():
    plain, flagged = [], []
    for seed in range(100):
        events, units = random_units(seed, units=90, late_share=0.0)
        # The second failure of a unit is its last.
        events = events.sort_values(["unit", "at"])
        rank = events.groupby("unit").cumcount()
        last = events[rank == 1].set_index("unit")["at"]
        events = events[rank <= 1]
        units = units.assign(exit=units["unit"].map(last).fillna(units["exit"]))
        ended = units.assign(is_ended_by_failure=units["unit"].isin(last.index))
        plain.append(only(events, units).verdict is TrendVerdict.GETTING_MORE_FREQUENT)
        flagged.append(only(events, ended).verdict is not TrendVerdict.NO_TREND_SHOWN)
    assert np.mean(plain) > 0.9
    assert np.mean(flagged) <= 0.1


def test_watching_that_stops_at_each_failure_and_goes_on_after_a_repair_is_no_trend():
    alarms = []
    for seed in range(100):
        events, units = random_units(seed, units=40, late_share=0.0)
        events = events.sort_values(["unit", "at"], ignore_index=True)
        # Found three days after it failed, a week on the bench: later ages move by ten days for each failure before.
        moved = events["at"] + 10 * events.groupby("unit").cumcount()
        begins = pd.concat([units.assign(entry=0.0), pd.DataFrame({"unit": events["unit"], "entry": moved + 10})])
        begins = begins[["unit", "entry"]].sort_values(["unit", "entry"], ignore_index=True)
        number = events.groupby("unit").size().reindex(units["unit"], fill_value=0).to_numpy()
        ends = pd.concat([
            pd.DataFrame({"unit": events["unit"], "exit": moved + 3}),
            pd.DataFrame({"unit": units["unit"], "exit": units["exit"] + 10 * number + 1}),
        ]).sort_values(["unit", "exit"], ignore_index=True)  # fmt: skip
        found = only(events.assign(at=moved), begins.assign(exit=ends["exit"]))
        alarms.append(found.verdict is not TrendVerdict.NO_TREND_SHOWN)
        assert found.units == 40
    assert np.mean(alarms) <= 0.11


def test_permuted_rows_and_rescaled_ages_give_the_same_answer():
    events, units = random_units(2, units=60, shape=1.4, groups=3)
    for one, two in zip(
        trend(events, units, by=["group"]),
        trend(
            events.assign(at=events["at"] * 24).sample(frac=1, random_state=3),
            units.assign(entry=units["entry"] * 24, exit=units["exit"] * 24).sample(frac=1, random_state=4),
            by=["group"],
        ),
        strict=True,
    ):
        assert (one.by, one.verdict, one.units, one.failures) == (two.by, two.verdict, two.units, two.failures)
        assert (two.shape.low, two.shape.estimate, two.shape.high, two.laplace_z, two.military_chi2) == pytest.approx(
            (one.shape.low, one.shape.estimate, one.shape.high, one.laplace_z, one.military_chi2), rel=1e-8
        )
        assert two.scale == pytest.approx(one.scale * 24, rel=1e-8)
        assert two.log_likelihood == pytest.approx(one.log_likelihood - one.failures * np.log(24), rel=1e-9)


@pytest.mark.parametrize(("ages", "because"), [([], Because.NO_FAILURES), ([5.0], Because.TOO_FEW_FAILURES)])
def test_too_few_failures_are_a_reason_and_not_a_number(ages, because):
    found = only(*alike(ages, exit_at=10))
    assert (found.verdict, found.because, found.shape.because) == (TrendVerdict.TOO_FEW, because, because)
    assert (found.laplace_z, found.p_value, found.military_p, found.scale) == (None, None, None, None)


def test_failures_all_at_the_last_look_have_a_trend_but_no_shape():
    found = only(*alike([10.0] * 8, exit_at=10))
    assert found.verdict is TrendVerdict.GETTING_MORE_FREQUENT
    assert (found.shape.because, found.scale, found.log_likelihood) == (Because.FIT_FAILED, None, None)


def test_failures_in_the_middle_of_every_watch_show_no_trend():
    found = only(*alike([5.0] * 12, exit_at=10, units=12))
    assert (found.laplace_z, found.robust_z, found.verdict) == (0.0, None, TrendVerdict.NO_TREND_SHOWN)


def test_late_units_whose_failures_all_follow_their_entry_have_no_shape():
    units = pd.DataFrame({"unit": range(8), "entry": 100.0, "exit": 200.0})
    found = only(pd.DataFrame({"unit": range(8), "at": 100.5}), units)
    assert (found.verdict, found.shape.because) == (TrendVerdict.GETTING_RARER, Because.FIT_FAILED)


@pytest.mark.parametrize("seed", range(0, 400, 8))
def test_ties_and_tiny_groups_are_answered_in_finite_numbers_or_refused(seed):
    events, units = random_units(seed, units=12, groups=6, spread=1.0)
    events["at"], units = np.ceil(events["at"] / 90), units.assign(entry=units["entry"] // 90, exit=np.ceil(units["exit"] / 90))
    for found in trend(events, units, by=["group"], min_failures=1):
        numbers = [found.laplace_z, found.robust_z, found.p_value, found.military_chi2, found.scale, found.log_likelihood]
        assert all(one is None or np.isfinite(one) for one in [*numbers, *vars(found.shape).values()] if not isinstance(one, str))
        assert (found.shape.estimate is None) == (found.scale is None)


def test_a_thousand_groups_and_none_are_answered():
    units = pd.DataFrame({"unit": range(1000), "entry": 0.0, "exit": 10.0})
    events = pd.DataFrame({"unit": np.repeat(range(1000), 6), "at": np.tile([1.0, 2, 3, 5, 8, 9], 1000)})
    found = trend(events, units, by=["unit"])
    assert len({one.shape.estimate for one in found}) == 1
    assert trend(table("unit at\n1 5").iloc[:0], units.iloc[:0], by=["unit"]) == []
