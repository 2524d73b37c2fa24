"""What to do about a family: sure of a profit, sure of a loss, or neither."""

from __future__ import annotations

import pytest

from pipelines.decisions.family_advice import Advice, family_advice


@pytest.mark.parametrize(
    ("chance", "advice"),
    [(1.0, Advice.BUY_IN_BULK), (0.9, Advice.BUY_IN_BULK), (0.89, Advice.CANNOT_TELL), (0.11, Advice.CANNOT_TELL),
     (0.1, Advice.STOP_BUYING), (0.0, Advice.STOP_BUYING)],
)  # fmt: skip
def test_the_chance_of_a_profit_decides(chance, advice):
    assert family_advice(chance, is_thin=False) is advice


@pytest.mark.parametrize("chance", [0.0, 0.5, 1.0])
def test_a_family_of_few_units_is_never_advised_on(chance):
    assert family_advice(chance, is_thin=True) is Advice.CANNOT_TELL
