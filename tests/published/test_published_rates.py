"""Limits of rates against published test-length factors: an upper limit on a rate is the factor over the time watched."""

from __future__ import annotations

import pytest

from pipelines.estimates.rate_ratio import rate
from tests.published.cases import load_case


def test_the_upper_limit_of_a_rate_is_the_factor_of_a_demonstration_test():
    case = load_case("mtbf_test_factors")
    for failures, factors in zip(case.data["r"], case.expected["factor"], strict=True):
        for confidence, factor in zip(case.data["C"], factors, strict=True):
            if confidence > 0.5:  # a one-sided limit, so the level is of both sides
                assert rate(failures, 1.0, level=2 * confidence - 1).high == pytest.approx(factor, rel=case.rel_tol)
