"""Groups of counted rows, and sums by group and time."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.counts import group, tally, whole_counts


def test_groups_are_sorted_whatever_the_order_of_the_rows():
    frame = pd.DataFrame({"family": ["Oriel", "Brack", "Oriel"], "side": ["R", "L", "L"]})
    groups = group([frame], by=["family", "side"])
    assert groups.tuples() == [("Brack", "L"), ("Oriel", "L"), ("Oriel", "R")]
    assert groups.codes[0].tolist() == [2, 0, 1]


def test_a_missing_value_is_a_group_of_its_own_and_comes_last():
    frame = pd.DataFrame({"family": ["Oriel", None, "Brack", None]})
    groups = group([frame], by=["family"])
    assert groups.tuples() == [("Brack",), ("Oriel",), (None,)]
    as_category = group([frame.astype("category")], by=["family"])
    assert as_category.tuples() == groups.tuples()
    assert as_category.codes[0].tolist() == groups.codes[0].tolist() == [1, 2, 0, 2]


def test_a_missing_number_is_none_and_without_one_numbers_stay_numbers():
    groups = group([pd.DataFrame({"depth": [2.0, None, 1.0]})], by=["depth"])
    assert groups.tuples() == [(1.0,), (2.0,), (None,)]
    assert group([pd.DataFrame({"depth": [2, 1]})], by=["depth"]).keys["depth"].dtype == np.int64


def test_a_column_of_one_value_and_columns_of_very_many_give_the_rows_there_are():
    frame = pd.DataFrame(np.random.default_rng(1).integers(0, 300, (400, 3)), columns=["lot", "unit", "part"]).assign(side="L")
    for by in (["lot", "side"], ["side", "unit"], ["lot", "unit", "part", "side"]):
        rows = list(frame[by].itertuples(index=False, name=None))
        (codes,), tuples = group([frame], by=by).codes, group([frame], by=by).tuples()
        assert tuples == sorted(set(rows))
        assert [tuples[code] for code in codes] == rows
        assert {type(one) for one in tuples} == {tuple}


def test_two_frames_share_their_groups():
    one, other = pd.DataFrame({"family": ["Oriel"]}), pd.DataFrame({"family": ["Brack", "Oriel"]})
    for frames in ([one, other], [one.astype("category"), other.astype("category")]):
        groups = group(frames, by=["family"])
        assert groups.tuples() == [("Brack",), ("Oriel",)]
        assert [codes.tolist() for codes in groups.codes] == [[1], [0, 1]]


def test_without_a_grouping_there_is_one_group():
    assert group([pd.DataFrame({"at": [1, 2]})], by=[]).tuples() == [()]


def test_no_rows_have_no_groups():
    assert group([pd.DataFrame({"family": []})], by=["family"]).count == 0


@pytest.mark.parametrize("scale", [1.0, 0.37, 1e7])
def test_sums_come_by_group_and_time_for_whole_hours_as_for_others(scale):
    code, value = np.array([1, 0, 1, 1, 0]), np.array([5.0, 2.0, 3.0, 5.0, 2.0]) * scale
    sums = tally(code, value, [np.array([1, 2, 3, 4, 5]), np.ones(5, dtype=int)])
    assert sums.code.tolist() == [0, 1, 1]
    assert sums.value.tolist() == [2.0 * scale, 3.0 * scale, 5.0 * scale]
    assert [list(column) for column in sums.sums] == [[7, 3, 5], [2, 1, 2]]


@pytest.mark.parametrize("broken", [[-1], [1.5], [float("nan")]])
def test_a_broken_count_is_refused_with_its_row(broken):
    with pytest.raises(InputError, match="row 1"):
        whole_counts(pd.DataFrame({"n": [3, *broken]}), "n")
