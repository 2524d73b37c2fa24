"""The chance that a passed clean, or a new part, holds: known truth under censoring, borrowing, refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.hold_after_pass import hold_after_pass, part_hold
from pipelines.estimates.pooled_share import pooled_share
from pipelines.vocabulary import Because


def fleet(seed: int, count: int) -> pd.DataFrame:
    """Return cleans of which those of number 1, 2, 3 hold 90 days with chances .8, .6, .4; many are lost sight of before."""
    rng = np.random.default_rng(seed)
    number = rng.integers(1, 4, count)
    life = rng.exponential(-90 / np.log(np.array([0.8, 0.6, 0.4]))[number - 1])
    last = rng.uniform(0, 200, count)
    return pd.DataFrame({
        "family": rng.choice(["A", "B"], count), "attempt_number": number, "is_passed": rng.random(count) < 0.7,
        "at": np.minimum(life, last), "is_failure": life <= last, "attempt_count": 1,
    })  # fmt: skip


def test_the_true_shares_come_out_of_censored_follow_up_whatever_failed_at_the_bench():
    holds = hold_after_pass(fleet(1, 20_000), horizon=90)
    for number, truth in ((1, 0.8), (2, 0.6), (3, 0.4)):
        for family in ("A", "B"):
            found = holds.chance(family, number)
            assert found.estimate == pytest.approx(truth, abs=0.03)
            assert found.low < truth < found.high
            assert holds.draws(family, number).mean() == pytest.approx(found.estimate, abs=0.01)


def test_with_everybody_followed_it_is_the_pooled_share_of_the_counts():
    rows = [("A", 1, 200.0, False, 30), ("A", 1, 20.0, True, 10), ("B", 1, 200.0, False, 6), ("B", 1, 20.0, True, 14)]
    frame = pd.DataFrame(rows, columns=["family", "attempt_number", "at", "is_failure", "attempt_count"]).assign(is_passed=True)
    holds = hold_after_pass(frame, horizon=90)
    cells = pd.DataFrame({"method": 1, "family": ["A", "B"], "k": [30, 6], "n": [40, 20]})
    for one in pooled_share(cells).cells:
        assert holds.chance(one.family, 1).estimate == pytest.approx(one.share.estimate, abs=0.01)


def test_what_is_not_on_record_borrows():
    rows = fleet(2, 2000)
    holds = hold_after_pass(rows[rows["attempt_number"] < 3], horizon=90)
    unseen, known = holds.chance("Unseen", 1), holds.chance("A", 1)
    assert unseen == holds.chance(None, 1)
    assert unseen.high - unseen.low > known.high - known.low
    # a third clean that nobody made is judged as the second, a tenth as the third
    assert holds.chance("A", 3) == holds.chance("A", 2)
    later = hold_after_pass(rows, horizon=90)
    assert later.chance("A", 10) == later.chance("A", 3)
    only_second = hold_after_pass(rows[rows["attempt_number"] == 2], horizon=90)
    assert only_second.chance("A", 1) == only_second.chance("A", 2)


@pytest.mark.parametrize("change", [{"is_passed": False}, {"at": 0.0, "is_failure": False}, {"attempt_number": pd.NA}])
def test_nobody_followed_is_refused(change):
    holds = hold_after_pass(fleet(3, 50).assign(**change), horizon=90)
    assert (holds.chance("A", 1).because, holds.draws("A", 1)) == (Because.NO_FOLLOW_UP, None)


def test_an_empty_log_is_refused():
    assert hold_after_pass(fleet(3, 5).head(0), horizon=90).chance("A", 1).because is Because.NO_FOLLOW_UP


def parts(seed: int, count: int) -> pd.DataFrame:
    """Return new parts of which those of family A, B hold 90 days with chances .9, .7; many are lost sight of before."""
    rng = np.random.default_rng(seed)
    family = rng.choice(["A", "B"], count)
    life = rng.exponential(-90 / np.log(np.where(family == "A", 0.9, 0.7)))
    last = rng.uniform(0, 200, count)
    return pd.DataFrame({"family": family, "at": np.minimum(life, last), "is_failure": life <= last, "part_count": 1})


def test_the_true_shares_of_new_parts_come_out_and_are_drawn_apart_from_those_of_cleans():
    found = part_hold(parts(5, 10_000), horizon=90)
    for family, truth in (("A", 0.9), ("B", 0.7)):
        one = found.chance(family)
        assert one.estimate == pytest.approx(truth, abs=0.03)
        assert one.low < truth < one.high
        assert found.draws(family).mean() == pytest.approx(one.estimate, abs=0.01)
    assert found.count == 10_000
    cleans = hold_after_pass(fleet(1, 2000), horizon=90)
    assert abs(np.corrcoef(found.draws("A"), cleans.draws("A", 1))[0, 1]) < 0.06


def test_new_parts_that_nobody_followed_are_refused():
    found = part_hold(parts(5, 5).head(0), horizon=90)
    assert (found.count, found.chance("A").because, found.draws("A")) == (0, Because.NO_FOLLOW_UP, None)
