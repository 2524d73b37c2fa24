"""Sentences about failures between two visits: several groups at once, and of one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipelines.wording import between
from tests.wording.lives_parts import DATING, GROUP


def test_dating_is_said_of_several_groups_at_once_and_only_of_ages_that_mislead():
    groups = [replace(GROUP, dating=DATING), replace(GROUP, dating=replace(DATING, b10_ratio=1.3)), GROUP]
    assert between.dated_sentence(groups).endswith("mislead in 2 of 3 groups, at most by one in ten 30\u00a0% later.")
    assert between.dated_sentence(groups[:1]) == between.dated_sentence([GROUP, GROUP]) == ""
    assert between.dating_sentence(DATING).endswith("would mislead: one in ten 19\u00a0% later.")


@pytest.mark.parametrize("count", [1, 5])
def test_the_count_of_failures_between_visits_agrees_with_its_verb(count):
    said = between.dating_sentence(replace(DATING, between_count=count))
    assert said.startswith("1 failure lies" if count == 1 else "5 failures lie")
    assert "no more than 5" in between.dating_sentence(replace(DATING, is_misleading=False))
