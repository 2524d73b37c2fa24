"""Tails of counts and corrections for many comparisons against published examples; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.many_tests import false_discovery
from pipelines.estimates.matched_counts import at_least, luck_limits
from tests.published.cases import case_ids, load_case, rows_of


@pytest.mark.parametrize("case_id", case_ids("padj_"))
def test_p_values_adjusted_for_false_discoveries_come_out_as_published_in_the_order_given(case_id):
    case = load_case(case_id)
    adjusted = false_discovery(np.array(case.data["p"]))
    assert adjusted.tolist() == pytest.approx(case.expected["BH"], rel=case.rel_tol)
    if "n_reject_BH" in case.expected:
        assert (adjusted < 0.05).sum() == case.expected["n_reject_BH"]


def test_the_funnel_of_twelve_hospitals_comes_out_as_published():
    case = load_case("funnel_surgical")
    rows = rows_of(case)
    died, of = (rows[name].to_numpy(float) for name in ("y", "n"))
    share = died.sum() / of.sum()
    mean, variance = of * share, of * share * (1 - share)
    assert share == pytest.approx(case.expected["p0"], rel=case.rel_tol)
    assert ((died - mean) / np.sqrt(variance)).tolist() == pytest.approx(case.expected["z"], rel=case.rel_tol)
    assert at_least(died, mean, variance).tolist() == pytest.approx(case.expected["p_ge"], rel=case.rel_tol)
    assert (1 - at_least(died + 1, mean, variance)).tolist() == pytest.approx(case.expected["p_le"], rel=case.rel_tol)
    low, high = luck_limits(mean, variance, level=0.998)
    outside = (died > high) | (died < low)
    assert rows["hospital"][outside].tolist() == ["H"]
