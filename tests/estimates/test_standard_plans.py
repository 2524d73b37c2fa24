"""Plans of the standard at the edges of what is held; its rows are checked in tests/published."""

from __future__ import annotations

import pytest

from pipelines.estimates.acceptance import Plan
from pipelines.estimates.standard_plans import FIRST_LETTER, LEVELS, SAMPLES, standard_plan


def test_every_level_names_letters_that_have_a_sample():
    assert {len(letters) for letters in LEVELS.values()} == {15}
    assert set("".join(LEVELS.values())) == set(SAMPLES)


def test_an_arrow_gives_a_letter_and_no_plan():
    assert standard_plan(200, aql_pct=1.0) == standard_plan(151, aql_pct=1.0)
    found = standard_plan(200, aql_pct=1.0)
    assert (found.letter, found.plan) == ("G", None)
    assert standard_plan(600_000, aql_pct=6.5).plan is None
    assert standard_plan(10, aql_pct=0.65).plan is None


def test_a_sample_larger_than_the_lot_is_the_whole_lot():
    assert standard_plan(2, aql_pct=6.5).plan == Plan(2, 0, 2)
    assert standard_plan(2, aql_pct=4.0, level="III").plan == Plan(2, 0, 2)


@pytest.mark.parametrize("aql", FIRST_LETTER)
def test_a_column_grows_more_lenient_with_the_lot(aql):
    plans = [standard_plan(size, aql_pct=aql, level="III").plan for size in (30, 60, 120, 200, 400, 1000, 3000, 9000, 30_000)]
    told = [one for one in plans if one is not None]
    assert [one.acceptance_number for one in told] == sorted(one.acceptance_number for one in told)
    assert len(told) > 4
