"""The least ratio of a batch known only from failed modules, against plain arithmetic and exact Poisson limits."""

from __future__ import annotations

import pandas as pd
import pytest
from scipy.stats import poisson

from pipelines.estimates.failed_only import least_ratio


def others(failed: int, good: int) -> pd.DataFrame:
    return pd.DataFrame({
        "entry": 0.0, "at": [50.0, 400.0], "is_failure": [True, False], "spell_count": [failed, good],
    })  # fmt: skip


def test_all_that_went_out_is_taken_to_have_served_since_the_batch_came():
    found = least_ratio(18, 60, 200.0, others(20, 80))
    assert found.estimate == pytest.approx(18 / (60 * 0.2))
    assert found.high is None
    assert poisson.sf(17, found.low * 60 * 0.2) == pytest.approx(0.05)


def test_where_the_others_were_not_watched_so_long_all_are_expected_to_have_failed():
    assert least_ratio(18, 60, 500.0, others(20, 80)).estimate == pytest.approx(18 / 60)
    assert least_ratio(18, 60, 20.0, others(20, 80)).estimate == pytest.approx(18 / 60)
    assert least_ratio(18, 60, 20.0, others(20, 80).iloc[:0]).estimate == pytest.approx(18 / 60)


def test_no_failure_gives_no_more_than_nothing():
    found = least_ratio(0, 60, 200.0, others(20, 80))
    assert (found.estimate, found.low) == (0.0, 0.0)
