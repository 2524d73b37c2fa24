"""The coming cleans of one stick: each is judged by its own number, as far as the record goes."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.coming_cleans import coming_cleans, coming_cleans_of
from pipelines.estimates.hold_after_pass import hold_after_pass
from pipelines.estimates.triage import triage
from pipelines.vocabulary import Because
from tests.estimates.test_hold_after_pass import fleet
from tests.estimates.tries import Fleet

ROWS = Fleet(np.random.default_rng(1)).attempts(2000)
MODEL, HOLDS = triage(ROWS), hold_after_pass(fleet(1, 2000).replace({"A": "F0", "B": "F1"}), horizon=90)
CASE = {"family": "F0", "mode": "jitter", "af_jitter_pct": 3.0, "attempt_number": 2}


def test_each_clean_has_the_draws_of_its_number_up_to_the_last_on_record():
    found = coming_cleans(MODEL, HOLDS, CASE)
    # no module on record had more than four
    assert (found.first_number, found.passes.shape, found.holds.shape) == (2, (4000, 3), (4000, 3))
    assert (np.diff(found.passes.mean(axis=0)) < 0).all()
    assert (found.holds[:, 0] == HOLDS.draws("F0", 2)).all()
    assert (found.holds[:, 2] == HOLDS.draws("F0", 3)).all()


def test_passing_and_holding_are_drawn_apart():
    found = coming_cleans(MODEL, HOLDS, CASE)
    assert abs(np.corrcoef(found.passes[:, 0], found.holds[:, 0])[0, 1]) < 0.06


def test_it_is_refused_for_the_reason_of_the_next_clean():
    assert coming_cleans(MODEL, HOLDS, CASE | {"attempt_number": 5}) is Because.UNLIKE_ANY
    assert coming_cleans(triage(ROWS.head(20)), HOLDS, CASE) is Because.TOO_FEW_ATTEMPTS


def test_where_nobody_was_followed_cleans_are_taken_to_hold_and_it_says_so():
    untold, told = coming_cleans(MODEL, hold_after_pass(fleet(1, 0), horizon=90), CASE), coming_cleans(MODEL, HOLDS, CASE)
    assert ((untold.passes == told.passes).all(), (untold.holds == 1).all()) == (True, True)
    assert (untold.is_hold_known, told.is_hold_known) == (False, True)


@pytest.mark.parametrize("number", [None, 0, -1, 1.5, float("nan")])
def test_a_stick_whose_cleans_are_not_counted_is_an_error(number):
    with pytest.raises(InputError):
        coming_cleans(MODEL, HOLDS, CASE | {"attempt_number": number})


def test_several_sticks_at_once_are_the_same_as_each_alone():
    cases = [CASE | {"af_jitter_pct": 1 + one / 20, "attempt_number": 1 + one % 2} for one in range(90)] + [
        CASE | {"attempt_number": 9}
    ]
    many = coming_cleans_of(MODEL, HOLDS, [[(1.0, case)] for case in cases])
    assert many[-1] is Because.UNLIKE_ANY
    for case, found in zip(cases[:-1:17], many[:-1:17], strict=True):
        alone = coming_cleans(MODEL, HOLDS, case)
        assert found.first_number == alone.first_number
        np.testing.assert_allclose(found.passes, alone.passes, rtol=1e-12)
        assert (found.holds == alone.holds).all()


def test_a_mixed_stick_has_the_mean_of_its_cases_draw_by_draw():
    other = CASE | {"mode": next(one for one in ROWS["mode"].unique() if one != CASE["mode"])}
    (mixed,) = coming_cleans_of(MODEL, HOLDS, [[(0.3, CASE), (0.7, other)]])
    one, two = (coming_cleans(MODEL, HOLDS, case).passes for case in (CASE, other))
    np.testing.assert_allclose(mixed.passes, 0.3 * one + 0.7 * two, rtol=1e-12)


def test_a_mixed_stick_of_which_one_case_was_never_cleaned_is_unlike_any():
    assert coming_cleans_of(MODEL, HOLDS, [[(0.5, CASE), (0.5, CASE | {"mode": "never_seen"})]]) == [Because.UNLIKE_ANY]
    assert coming_cleans_of(MODEL, HOLDS, []) == []
