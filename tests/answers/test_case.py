"""A name given with `--case` is that of the log, however it is written."""

from __future__ import annotations

import pytest

from pipelines.answers.case import known_name
from pipelines.errors import SettingError


@pytest.mark.parametrize("known", [["UC-09", "uc 09"], ["uc 09", "UC-09"]])
def test_of_two_names_spelt_alike_the_one_written_counts(known):
    assert [known_name("batch", name, known) for name in ("UC-09", "uc 09")] == ["UC-09", "uc 09"]


def test_capitals_and_signs_do_not_matter_and_an_alias_is_the_name_it_stands_for():

    assert known_name("batch", "UC-9", ["uc 9"]) == "uc 9"
    assert known_name("batch", "nine", ["UC-9"], {"nine": "UC-9"}) == "UC-9"


def test_a_name_that_is_not_known_leads_to_the_nearest():
    with pytest.raises(SettingError, match=r"no batch 'UC-99'\. Did you mean UC-9\?"):
        known_name("batch", "UC-99", ["UC-9", "A1"])
    with pytest.raises(SettingError, match="It has none"):
        known_name("batch", "UC-99", [])
