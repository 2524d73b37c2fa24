"""Decisions against their plan."""

from __future__ import annotations

import pytest

from pipelines.decisions.inspection import agreement
from pipelines.vocabulary import Agreement


@pytest.mark.parametrize(
    ("decision", "is_within", "told"),
    [
        ("accept", True, Agreement.AS_PLANNED), ("accept", False, Agreement.AGAINST_PLAN),
        ("reject", False, Agreement.AS_PLANNED), ("reject", True, Agreement.AGAINST_PLAN),
        ("accept_on_concession", False, Agreement.CONCESSION), ("accept_on_concession", True, Agreement.AS_PLANNED),
        ("hold", True, Agreement.OPEN), ("hold", False, Agreement.OPEN),
    ],
)  # fmt: skip
def test_a_decision_against_what_the_plan_says(decision, is_within, told):
    assert agreement(decision, is_within=is_within) is told
