"""Adjusted p-values of many tests against published examples; sources in cases.json."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.many_tests import false_discovery, holm
from tests.published.cases import case_ids, load_case


@pytest.mark.parametrize("case_id", case_ids("padj_"))
def test_adjusted_p_values_come_out_as_published_in_the_order_given(case_id):
    case = load_case(case_id)
    assert holm(np.array(case.data["p"])).tolist() == pytest.approx(case.expected["holm"], rel=case.rel_tol)
    assert false_discovery(np.array(case.data["p"])).tolist() == pytest.approx(case.expected["BH"], rel=case.rel_tol)
