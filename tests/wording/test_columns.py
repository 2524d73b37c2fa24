"""What absent columns would add is said of columns and tables that exist."""

import pytest

from pipelines.contract import WAREHOUSE_TABLE, contract
from pipelines.wording import columns

KNOWN = {(column.table, column.name): column for column in contract()}


def test_every_sentence_is_about_a_column_of_the_contract():
    assert set(columns._ADDS) <= set(KNOWN)
    assert set(columns._TABLE_ADDS) <= set(WAREHOUSE_TABLE)


def test_every_strongly_wanted_column_of_the_job_log_says_what_it_would_add():
    wanted = {key for key, column in KNOWN.items() if column.table == "jobs" and column.need.startswith("S")}
    assert wanted <= set(columns._ADDS)


def test_a_required_column_adds_nothing_since_it_cannot_be_absent():
    assert not [key for key in columns._ADDS if KNOWN[key].is_required]


@pytest.mark.parametrize(
    ("need", "words"), [("R", "required"), ("O", "optional"), ("S if action=replace_*", "wanted if action=replace_*")]
)
def test_the_need_of_a_column_is_a_word(need, words):
    assert columns.need_words(need) == words
