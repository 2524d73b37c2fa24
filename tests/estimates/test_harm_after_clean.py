"""Harm after planned cleans: counted by hand, simulated, bounded, refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.harm_after_clean import harm_after_clean
from pipelines.vocabulary import Because


def spells(*rows: tuple[float, bool, int]) -> pd.DataFrame:
    return pd.DataFrame([(at, failed) for at, failed, count in rows for _ in range(count)], columns=["at", "is_failure"])


def test_the_faults_soon_after_are_held_against_those_later():
    share, cleans = harm_after_clean(spells((5, True, 10), (20, True, 5), (100, False, 85)), soon=14)
    assert cleans == 100
    assert share.estimate == pytest.approx(0.10 - 5 / 90)
    error = np.sqrt(0.1 * 0.9 / 100 + (5 / 90) * (85 / 90) / 90)
    assert share.high == pytest.approx(share.estimate + 1.959964 * error)
    assert share.low == 0


def test_those_not_watched_long_enough_tell_nothing():
    watched = spells((5, True, 3), (100, False, 97))
    longer = pd.concat([watched, spells((15, False, 400))])
    assert harm_after_clean(longer, soon=14) == harm_after_clean(watched, soon=14)
    assert harm_after_clean(spells((15, False, 400)), soon=14)[0].because is Because.TOO_FEW_ATTEMPTS
    assert harm_after_clean(spells(), soon=14) == (harm_after_clean(spells((15, False, 4)), soon=14)[0], 0)


def test_fewer_faults_soon_after_are_no_harm():
    share, _ = harm_after_clean(spells((20, True, 30), (100, False, 70)), soon=14)
    assert (share.estimate, share.low) == (0.0, 0.0)


def test_true_harm_is_inside_as_often_as_it_says():
    rng, hits = np.random.default_rng(8), 0
    for _ in range(400):
        at = np.where(rng.random(600) < 0.03, rng.uniform(0, 10, 600), rng.exponential(400, 600))
        share, _ = harm_after_clean(pd.DataFrame({"at": np.minimum(at, 365), "is_failure": at < 365}), soon=14)
        # nearly: an ordinary fault within the first ten days may come before the harm
        hits += share.low <= 0.03 <= share.high
    assert hits >= 0.92 * 400


def test_bad_input_is_refused():
    with pytest.raises(InputError):
        harm_after_clean(spells((5, True, 60)), soon=0)
    with pytest.raises(InputError):
        harm_after_clean(spells((-5, True, 60)), soon=14)
