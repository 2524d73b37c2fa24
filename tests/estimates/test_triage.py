"""Single sticks: known fleets come true, bad input gives words, and what is like nothing on record is refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from pipelines.errors import InputError
from pipelines.estimates.ridge_logistic import ridge_logistic
from pipelines.estimates.triage import triage
from pipelines.vocabulary import Because
from tests.calibration.triage import scores
from tests.estimates.tries import Fleet


def attempts(seed: int, count: int = 300) -> pd.DataFrame:
    return Fleet(np.random.default_rng(seed)).attempts(count)


def told(model, cases):
    return np.array([(one.estimate, one.low, one.high) for one in model.chance(cases)], dtype=float)


def plain(passed: int, tried: int, **columns) -> pd.DataFrame:
    return pd.DataFrame({"passed_count": [passed], "attempt_count": [tried], **{name: [one] for name, one in columns.items()}})


def test_without_columns_it_is_the_posterior_of_one_share():
    def weight(b):
        return norm.pdf(b, 0, 1.8) * np.exp(28 * b - 40 * np.logaddexp(0, b) + 25)

    mean = quad(lambda b: weight(b) / (1 + np.exp(-b)), -9, 9)[0] / quad(weight, -9, 9)[0]
    (found,) = triage(plain(28, 40)).chance(pd.DataFrame(index=[0]))
    # (the top of the posterior stands for its mean: 0.0043 of a share at 40 attempts)
    assert found.estimate == pytest.approx(mean, abs=0.005)
    assert found.low < found.estimate < found.high


def test_many_attempts_leave_the_prior_no_say():
    rows = attempts(1, 20_000)[["af_jitter_pct", "attempt_number", "passed_count", "attempt_count"]]
    x = np.column_stack([np.ones(len(rows)), rows[["af_jitter_pct", "attempt_number"]]])
    free = ridge_logistic(x, rows["passed_count"].to_numpy(float), np.ones(len(rows)), prior_sd=np.full(3, np.inf))
    cases = rows.head(50)
    assert triage(rows).predicted(cases) == pytest.approx(1 / (1 + np.exp(-x[:50] @ free.coefficient)), abs=0.002)


def test_chances_come_true_and_beat_the_plain_share():
    # 200 fleets: slope .984 at 1,000 attempts; at 40 a log loss of .640 where the plain share has .686, the truth .558.
    many, few = scores(1000, 30), scores(40, 60)
    assert 0.9 < many.slope.estimate < 1.1
    assert many.log_loss < many.plain_log_loss - 0.05
    assert few.log_loss < few.plain_log_loss - 0.02


def test_blank_readings_do_not_make_others_stand_in_for_them():
    # 88 % of limits held the truth when a blank stood at the mean; chances of what was read must not move with blanks elsewhere.
    rng = np.random.default_rng(5)
    fleet = Fleet(rng)
    rows, cases = fleet.attempts(20_000, blank_share=0), fleet.attempts(300, blank_share=0)
    blanked = rows.assign(af_rest_offset_pct=rows["af_rest_offset_pct"].where(rng.random(len(rows)) > 0.4))
    apart = triage(blanked).predicted(cases) - triage(rows).predicted(cases)
    assert np.abs(apart).mean() < 0.01
    unread = triage(blanked).predicted(cases.assign(af_rest_offset_pct=np.nan))
    assert unread.mean() == pytest.approx(cases["chance"].mean(), abs=0.03)


def test_counts_are_their_rows_and_order_and_units_tell_nothing():
    rows = attempts(2).drop(columns=["fold", "chance"])
    rows["af_jitter_pct"] = rows["af_jitter_pct"].round()
    keys = [one for one in rows if not one.endswith("_count")]
    counted = rows.groupby(keys, dropna=False, as_index=False).sum()
    cases = rows.head(20)
    whole = told(triage(rows), cases)
    assert told(triage(counted), cases) == pytest.approx(whole, abs=1e-8)
    assert told(triage(rows.sample(frac=1, random_state=1)), cases) == pytest.approx(whole, abs=1e-8)
    scaled = [one.assign(af_jitter_pct=one["af_jitter_pct"] * 7) for one in (rows, cases)]
    assert told(triage(scaled[0]), scaled[1]) == pytest.approx(whole, abs=1e-8)
    assert told(triage(rows.astype({"family": "category"})), cases) == pytest.approx(whole, abs=1e-12)


def test_draws_are_the_posterior_of_the_limits_and_always_the_same():
    model, cases = triage(attempts(3)), attempts(3).head(4)
    drawn = model.draws(cases)
    found = told(model, cases)
    assert drawn.mean(axis=0) == pytest.approx(found[:, 0], abs=0.004)
    limits = np.quantile(drawn, [0.025, 0.975], axis=0).T
    assert limits == pytest.approx(found[:, 1:], abs=0.01)
    assert (model.draws(cases) == model.draws(cases)).all()


def test_families_borrow_and_a_rare_one_more_than_a_common_one():
    rows = pd.DataFrame({
        "family": ["A", "B", "C", "D", "E"], "passed_count": [60, 140, 110, 0, 95], "attempt_count": [200, 200, 200, 3, 200],
    })  # fmt: skip
    found = told(triage(rows), rows)
    assert found[0, 0] == pytest.approx(0.3, abs=0.03)
    assert 0.15 < found[3, 0] < 0.5
    assert found[3, 2] - found[3, 1] > 3 * (found[0, 2] - found[0, 1])


def test_a_case_unlike_any_is_refused_and_its_neighbours_are_not():
    rows = attempts(4)
    model = triage(rows)
    like = rows[rows["family"] == "F0"].iloc[[0]]
    changes = [
        {}, {"af_jitter_pct": 99.0}, {"af_jitter_pct": -1.0}, {"af_jitter_pct": np.inf}, {"attempt_number": 9},
        {"family": "Unseen"}, {"mode": "axis_dead"}, {"sensor_type": "hall"}, {"sensor_type": None}, {"af_jitter_pct": np.nan},
        {"family": None}, {"af_linearity_pct": 500.0},
    ]  # fmt: skip
    cases = pd.concat([like.assign(**one) for one in changes], ignore_index=True)
    is_like = model.is_like_anything(cases)
    # what the log never read can neither help nor hinder
    assert is_like.tolist() == [True] + [False] * 7 + [True] * 4
    found = model.chance(cases)
    assert [one.because for one in found] == [None if one else Because.UNLIKE_ANY for one in is_like]
    with pytest.raises(InputError):
        model.draws(cases)


def test_what_a_case_leaves_blank_widens_its_limits():
    rows = attempts(6, 3000).assign(depth=np.tile(["air", "flush", "open"], 1000))
    model, case = triage(rows), rows.iloc[[0]]
    known, unknown = told(model, case)[0], told(model, case.assign(depth=None))[0]
    assert unknown[2] - unknown[1] > 1.5 * (known[2] - known[1])
    assert (told(model, case.drop(columns="depth"))[0] == unknown).all()


@pytest.mark.parametrize("passed", [0, 40])
def test_one_result_only_still_gives_a_chance_inside_0_and_1(passed):
    rows = pd.DataFrame(
        {"family": ["A"] * 40, "af_jitter_pct": np.arange(40.0), "passed_count": passed // 40, "attempt_count": 1}
    )
    found = told(triage(rows), rows.head(1))[0]
    assert 0 < found[1] < found[0] < found[2] < 1
    assert (found[0] > 0.85) if passed else (found[0] < 0.15)


def test_few_attempts_none_at_all_and_blank_columns():
    assert triage(plain(20, 39)).because is Because.TOO_FEW_ATTEMPTS
    (refused,) = triage(plain(20, 39)).chance(plain(0, 0))
    assert (refused.estimate, refused.because) == (None, Because.TOO_FEW_ATTEMPTS)
    empty = triage(attempts(1).head(0))
    assert (empty.attempts, empty.because) == (0, Because.TOO_FEW_ATTEMPTS)
    assert empty.chance(attempts(1).head(0)) == []
    blank = triage(plain(30, 50, family=None, af_jitter_pct=np.nan, mode=None))
    assert blank.columns == ()
    assert told(blank, plain(0, 0, family="A", af_jitter_pct=3.0))[0, 0] == pytest.approx(0.6, abs=0.02)
    one_value = triage(plain(30, 50, family="A", af_jitter_pct=5.0))
    assert one_value.is_like_anything(pd.DataFrame({"family": ["A", "A"], "af_jitter_pct": [5.0, 5.1]})).tolist() == [True, False]
    assert told(one_value, plain(0, 0, family="A", af_jitter_pct=5.0))[0, 0] == pytest.approx(0.6, abs=0.03)


def test_a_thousand_families_with_an_attempt_each():
    rows = pd.DataFrame({"family": [f"F{one}" for one in range(1000)], "passed_count": np.arange(1000) % 2, "attempt_count": 1})
    model = triage(rows)
    assert told(model, rows.head(2))[:, 0] == pytest.approx([0.5, 0.5], abs=0.1)
    assert model.is_like_anything(rows).all()


@pytest.mark.parametrize(
    ("rows", "word"),
    [
        (plain(5, 4), "More cleans passed"),
        (plain(1, 50, af_jitter_pct=-1.0), "af_jitter_pct"),
        (plain(1, 50, af_reach_pct=np.inf), "af_reach_pct"),
        (plain(1, -50), "attempt_count"),
        (pd.DataFrame({"family": ["A"]}), "lack"),
    ],
)
def test_impossible_counts_are_an_error_that_says_so(rows, word):
    with pytest.raises(InputError, match=word):
        triage(rows)
