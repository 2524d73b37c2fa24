"""Words that are not known of a stick, taken as they were found on the cleans that it may be like."""

from __future__ import annotations

import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.missing_words import MOST_WORDS, missing_words

ROWS = pd.DataFrame(
    [("A", "jitter", "pot", 30), ("A", "dead_spot", "pot", 10), ("A", "jitter", "hall", 10), ("B", "jitter", "hall", 50),
     ("B", None, "hall", 5)],
    columns=["family", "mode", "sensor_type", "attempt_count"],
)  # fmt: skip


def test_a_missing_word_has_the_shares_of_the_cleans_of_its_family():
    found = missing_words(ROWS, {"family": "A", "sensor_type": "pot"})
    assert found == [(0.75, {"mode": "jitter"}), (0.25, {"mode": "dead_spot"})]


def test_several_missing_words_go_together_as_they_were_found():
    found = missing_words(ROWS, {"family": "A"})
    assert [(share, tuple(words.values())) for share, words in found] == [
        (0.6, ("pot", "jitter")), (0.2, ("hall", "jitter")), (0.2, ("pot", "dead_spot")),
    ]  # fmt: skip
    assert sum(share for share, _ in found) == pytest.approx(1)


def test_nothing_is_added_where_all_is_known():
    assert missing_words(ROWS, {"family": "A", "sensor_type": "pot", "mode": "jitter"}) == [(1.0, {})]


def test_a_family_without_cleans_and_one_that_is_not_known_take_all():
    assert missing_words(ROWS, {"family": "Z", "mode": "jitter"}) == missing_words(ROWS, {"mode": "jitter"})
    assert missing_words(ROWS, {"mode": "jitter"})[0] == (60 / 90, {"sensor_type": "hall"})


def test_where_the_log_often_leaves_it_blank_blank_is_a_level_of_its_own():
    rows = pd.concat([ROWS, ROWS.assign(mode=None)])
    assert missing_words(rows, {"family": "A", "sensor_type": "pot"}) == [(1.0, {})]


def test_the_rarest_of_many_words_are_left_out_and_the_rest_come_to_one():
    rows = pd.DataFrame({"family": "A", "mode": [f"m{one}" for one in range(30)], "attempt_count": range(2, 32)})
    found = missing_words(rows, {"family": "A"})
    assert len(found) == MOST_WORDS
    assert sum(share for share, _ in found) == pytest.approx(1)
    assert found[0][1] == {"mode": "m29"}


def test_no_cleans_and_no_such_column_leave_the_case_as_it_is():
    assert missing_words(ROWS.head(0), {"family": "A"}) == [(1.0, {})]
    assert missing_words(ROWS[["family", "attempt_count"]], {"family": "A"}) == [(1.0, {})]
    with pytest.raises(InputError):
        missing_words(ROWS[["family"]], {"family": "A"})
