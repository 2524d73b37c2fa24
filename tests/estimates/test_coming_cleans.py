"""The coming cleans of one stick: each is judged by its own number, as far as the record goes."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.coming_cleans import coming_cleans
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
    assert coming_cleans(MODEL, hold_after_pass(fleet(1, 0), horizon=90), CASE) is Because.NO_FOLLOW_UP


@pytest.mark.parametrize("number", [None, 0, -1, 1.5, float("nan")])
def test_a_stick_whose_cleans_are_not_counted_is_an_error(number):
    with pytest.raises(InputError):
        coming_cleans(MODEL, HOLDS, CASE | {"attempt_number": number})
