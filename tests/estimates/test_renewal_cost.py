"""Long-run faults and planned cleans: closed forms, sticks played out, scaling, and what cannot be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import gamma

from pipelines.errors import InputError
from pipelines.estimates import renewal_cost
from pipelines.estimates.renewal_cost import Renewal, long_run_rates
from tests.estimates.renewal_referee import played_out

PARTLY = Renewal(2.2, 400.0, 0.4, 0.6, 0.1, 0.2, 0.0005)


@pytest.mark.parametrize("shape", [0.7, 1.0, 1.8, 3.5])
@pytest.mark.parametrize("after", [30.0, 300.0, 2000.0])
def test_full_renewal_is_the_closed_form_of_age_replacement(shape, after):
    length = quad(lambda t: np.exp(-((t / 500) ** shape)), 0, after, limit=200)[0]
    surviving = np.exp(-((after / 500) ** shape))
    faults, cleans = long_run_rates(Renewal(shape, 500.0, 0.0, 0.0), after)
    assert float(faults) == pytest.approx((1 - surviving) / length, rel=2e-5)
    assert float(cleans) == pytest.approx(surviving / length, rel=2e-5)


@pytest.mark.parametrize("kept", [0.0, 0.35, 0.8])
def test_minimal_repair_settles_at_the_age_that_a_clean_leaves_again(kept):
    after, shape = 200.0, 2.2
    age = kept * after / (1 - kept)
    faults, cleans = long_run_rates(Renewal(shape, 400.0, kept, 0.3, patched_share=1.0), after)
    assert float(faults) == pytest.approx(((age + after) ** shape - age**shape) / 400.0**shape / after, rel=1e-6)
    assert float(cleans) == pytest.approx(1 / after, rel=1e-9)


def test_waiting_with_full_renewal_is_one_fault_a_mean_life():
    shapes = np.array([0.8, 1.0, 2.0, 4.0])
    faults, cleans = long_run_rates(Renewal(shapes, 300.0, 0.0, 0.0), np.inf)
    assert faults == pytest.approx(1 / (300 * gamma(1 + 1 / shapes)), rel=3e-5)
    assert (cleans == 0).all()


def test_faults_that_age_does_not_move_are_what_they_are_whatever_cleans_do():
    law = Renewal(1.0, 250.0, np.array([0.0, 0.5, 0.9]), 0.7, 0.2, 0.3, 0.001)
    faults, _ = long_run_rates(law, 100.0)
    assert faults == pytest.approx([1 / 250 + 0.001] * 3, rel=1e-5)


@pytest.mark.parametrize(
    ("law", "after"),
    [
        (PARTLY, 200.0),
        (replace(PARTLY, shape=1.4, planned_kept=0.1), 600.0),
        (replace(PARTLY, planned_kept=0.8, fault_kept=0.8, patched_share=0.0, replaced_share=0.1), 150.0),
        (replace(PARTLY, shape=3.0, other_rate=0.003, patched_share=0.4), 250.0),
    ],
)
def test_sticks_played_out_have_these_rates(law, after):
    found = [float(one) for one in long_run_rates(law, after)]
    played = played_out(law, after, sticks=3000, hours=30_000.0, seed=3)
    assert found == pytest.approx(played, rel=0.008)


def test_sticks_played_out_without_a_plan():
    law = Renewal(2.0, 400.0, 0.0, 0.6, 0.1, 0.1, 0.0003)
    found = float(long_run_rates(law, np.inf)[0])
    assert found == pytest.approx(played_out(law, 1e15, sticks=3000, hours=40_000.0, seed=5)[0], rel=0.008)


def test_few_ages_and_points_tell_as_much_as_many(monkeypatch):
    shapes, kept = np.array([1.0, 1.5, 2.5, 4.0])[:, None, None], np.array([0.0, 0.5, 0.9])[:, None]
    law = Renewal(shapes, 1.0, kept, kept, 0.1, 0.2, 0.1)
    after = np.array([0.1, 0.4, 1.0, 3.0, np.inf])
    few = long_run_rates(law, after)
    monkeypatch.setattr(renewal_cost, "AGES", 40)
    monkeypatch.setattr(renewal_cost, "POINTS", 80)
    many = long_run_rates(law, after)
    for fault_cost in (2, 8):
        assert fault_cost * few[0] + few[1] == pytest.approx(fault_cost * many[0] + many[1], rel=0.001)


def test_rescaled_time_rescales_rates_and_a_very_long_interval_is_none():
    faults, cleans = long_run_rates(PARTLY, 200.0)
    slower = long_run_rates(replace(PARTLY, scale=4000.0, other_rate=0.00005), 2000.0)
    assert [float(one) for one in slower] == pytest.approx([float(faults) / 10, float(cleans) / 10], rel=1e-9)
    assert float(long_run_rates(PARTLY, 1e6)[0]) == pytest.approx(float(long_run_rates(PARTLY, np.inf)[0]), rel=1e-6)


def test_draws_and_intervals_go_together_and_blocks_change_nothing(monkeypatch):
    law = replace(PARTLY, shape=np.linspace(1.2, 3, 7)[:, None], scale=np.linspace(300, 500, 7)[:, None])
    after = np.array([100.0, 300.0, np.inf])
    whole = long_run_rates(law, after)
    assert whole[0].shape == (7, 3)
    monkeypatch.setattr(renewal_cost, "BLOCK", 4)
    for one, blocked in zip(whole, long_run_rates(law, after), strict=True):
        assert (one == blocked).all()
    alone = long_run_rates(replace(PARTLY, shape=float(law.shape[2, 0]), scale=float(law.scale[2, 0])), 300.0)
    assert float(whole[0][2, 1]) == pytest.approx(float(alone[0]), rel=1e-9)


def test_nothing_that_takes_age_off_still_gives_numbers():
    for law in (Renewal(2.0, 100.0, 1.0, 1.0), Renewal(2.0, 100.0, 1.0, 1.0, replaced_share=1.0)):
        for one in long_run_rates(law, np.array([1.0, 100.0, np.inf])):
            assert np.isfinite(one).all()


@pytest.mark.parametrize(
    "wrong",
    [{"shape": 0.0}, {"scale": np.inf}, {"planned_kept": 1.1}, {"fault_kept": -0.1}, {"patched_share": np.nan},
     {"patched_share": 0.9}, {"other_rate": -1.0}],
)  # fmt: skip
def test_an_impossible_law_is_refused(wrong):
    with pytest.raises(InputError):
        replace(PARTLY, **wrong)


@pytest.mark.parametrize("after", [0.0, -5.0, np.nan])
def test_an_impossible_interval_is_refused(after):
    with pytest.raises(InputError):
        long_run_rates(PARTLY, after)
