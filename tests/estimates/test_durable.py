"""Durable success: what held until the horizon, from follow-up that ends early for many."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.durable import durable
from pipelines.estimates.proportion import wilson
from pipelines.vocabulary import Because
from tests.estimates.spells import table

HEAD = "is_passed at is_failure attempt_count\n"


def only(rows: str, *, horizon: float = 90):
    (found,) = durable(table(HEAD + rows), by=[], horizon=horizon)
    return found


def test_with_everyone_followed_it_is_the_plain_share_with_wilsons_limits():
    found = only("True 200 False 6\nFalse 0 False 3\nTrue 30 True 1")
    assert found.share == pytest.approx(0.6)
    assert found.n_effective == pytest.approx(10)
    limits = wilson(6, 10)
    assert (found.low, found.high) == (pytest.approx(limits.low), pytest.approx(limits.high))


def test_a_failed_test_counts_at_once_and_a_lost_one_counts_while_it_is_seen():
    # By hand: 1 − 2/10 at once; of the 8 on their way 2 are lost at 20; 1 of the 6 left comes back at 50.
    found = only("False 0 False 2\nTrue 20 False 2\nTrue 50 True 1\nTrue 120 False 5")
    assert found.share == pytest.approx(0.8 * 5 / 6)
    variance = found.share**2 * (2 / (10 * 8) + 1 / (6 * 5))
    assert found.n_effective == pytest.approx(found.share * (1 - found.share) / variance)
    assert (found.attempts, found.failed, found.followed) == (10, 3, 8)


@pytest.mark.parametrize(("row", "share"), [("True 90 True 1", 0.75), ("True 90 False 1", 1.0), ("True 91 True 1", 1.0)])
def test_a_failure_at_the_horizon_did_not_hold_and_a_last_look_there_did(row, share):
    assert only(f"True 100 False 3\n{row}").share == pytest.approx(share)


@pytest.mark.parametrize(
    ("rows", "share", "followed"),
    [("True 100 False 4\nTrue 10 False 6", 1.0, 4), ("False 0 False 3\nTrue 20 True 1\nTrue 5 False 9", 0.0, 4)],
)
def test_all_or_none_held_is_judged_on_those_followed(rows, share, followed):
    found = only(rows)
    assert (found.share, found.n_effective) == (share, followed)
    limits = wilson(share * followed, followed)
    assert (found.low, found.high) == (limits.low, limits.high)


def test_all_failed_at_the_bench_is_an_answer():
    assert only("False 0 False 4").share == 0


@pytest.mark.parametrize("rows", ["True 0 False 4", "True 89 False 4", "False 0 False 2\nTrue 30 True 1\nTrue 50 False 2"])
def test_nobody_followed_to_the_horizon_is_a_reason_and_not_a_number(rows):
    found = only(rows)
    assert (found.share, found.low, found.high, found.n_effective) == (None, None, None, None)
    assert found.because is Because.NO_FOLLOW_UP


def test_groups_come_apart_and_sorted():
    attempts = table("depth " + HEAD + "open True 99 False 2\nair False 0 False 1\nair True 99 False 1")
    found = durable(attempts, by=["depth"], horizon=90)
    assert [(one.by, one.share) for one in found] == [(("air",), 0.5), (("open",), 1.0)]


@pytest.mark.parametrize("factor", [24, 1 / 240])
def test_rescaled_time_and_permuted_rows_give_the_same_answer(factor):
    rng = np.random.default_rng(4)
    attempts = pd.DataFrame({
        "is_passed": rng.random(80) < 0.8, "at": rng.integers(0, 200, 80).astype(float),
        "is_failure": rng.random(80) < 0.3, "attempt_count": rng.integers(1, 4, 80),
    })  # fmt: skip
    (one,) = durable(attempts, by=[], horizon=90)
    shuffled = attempts.sample(frac=1, random_state=2)
    (other,) = durable(shuffled.assign(at=shuffled["at"] * factor), by=[], horizon=90 * factor)
    assert (other.share, other.low, other.high, other.n_effective) == pytest.approx(
        (one.share, one.low, one.high, one.n_effective), rel=1e-12
    )


@pytest.mark.parametrize("horizon", [0, -5, float("nan"), float("inf")])
def test_a_horizon_that_is_no_length_is_refused(horizon):
    with pytest.raises(InputError, match="horizon"):
        only("True 100 False 3", horizon=horizon)


@pytest.mark.parametrize("row", ["True -1 False 1", "True nan False 1", "True inf False 1", "True 5 False 1.5"])
def test_attempts_that_cannot_be_are_refused_in_words(row):
    with pytest.raises(InputError):
        only(f"True 100 False 3\n{row}")


def test_no_attempts_have_no_groups():
    assert durable(table(HEAD + "True 1 True 1").iloc[:0], by=[], horizon=90) == []
