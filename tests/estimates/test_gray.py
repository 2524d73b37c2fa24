"""Gray's test: its level and power in simulation, against a permutation, and what it refuses."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from lifelines.statistics import multivariate_logrank_test

from pipelines.errors import InputError
from pipelines.estimates.gray import gray_test
from pipelines.vocabulary import Because
from tests.estimates.spells import table


def simulated(rng, *, spells: int = 120, groups: int = 3, slower: float = 1.0, others: float = 200.0) -> pd.DataFrame:
    """Return spells in whole tens of hours (so with ties); group 0 fails `slower` times as slowly of `dust`."""
    group = rng.integers(0, groups, spells)
    dust, wear = rng.exponential(100, spells) * np.where(group, 1, slower), rng.exponential(others, spells)
    end = rng.uniform(20, 300, spells)
    at = np.minimum(np.minimum(dust, wear), end)
    mechanism = np.where(at == dust, "dust", np.where(at == wear, "wear", None))
    return pd.DataFrame({"group": group, "at": np.ceil(at / 10) * 10, "mechanism": mechanism, "spell_count": 1})


def test_under_no_difference_the_p_value_is_uniform():
    rng = np.random.default_rng(1)
    p = np.array([gray_test(simulated(rng), group="group", mechanism="dust").p_value for _ in range(400)])
    for level in (0.05, 0.2, 0.5):
        assert (p < level).mean() == pytest.approx(level, abs=2.6 * np.sqrt(level * (1 - level) / 400))


def test_a_difference_is_found():
    rng = np.random.default_rng(2)
    p = [gray_test(simulated(rng, slower=3, groups=2), group="group", mechanism="dust").p_value for _ in range(50)]
    assert np.mean(np.array(p) < 0.05) > 0.8


def test_the_p_value_is_near_that_of_shuffled_groups():
    rng = np.random.default_rng(3)
    spells = simulated(rng, groups=2, slower=1.5)
    found = gray_test(spells, group="group", mechanism="dust")
    shuffled = [
        gray_test(spells.assign(group=rng.permutation(spells["group"])), group="group", mechanism="dust").statistic
        for _ in range(400)
    ]
    assert np.mean(np.array(shuffled) >= found.statistic) == pytest.approx(found.p_value, abs=0.05)


def test_without_other_mechanisms_it_is_close_to_the_log_rank_test():
    spells = simulated(np.random.default_rng(4), spells=2000, others=np.inf)
    found = gray_test(spells, group="group", mechanism="dust")
    other = multivariate_logrank_test(spells["at"], spells["group"], spells["mechanism"] == "dust")
    assert found.statistic == pytest.approx(other.test_statistic, rel=0.02)
    assert found.degrees_of_freedom == 2


@pytest.mark.parametrize("factor", [1.0, 1e-5, 1e5])
def test_rows_counts_names_and_the_unit_of_time_change_nothing(factor):
    spells = simulated(np.random.default_rng(5), spells=300)
    one = gray_test(spells, group="group", mechanism="dust")
    counts = spells.groupby(["group", "at", "mechanism"], as_index=False, dropna=False)["spell_count"].sum()
    counts = counts.sample(frac=1, random_state=1).assign(at=counts["at"] * factor, group=-counts["group"])
    other = gray_test(counts, group="group", mechanism="dust")
    assert (other.groups, other.failures, other.degrees_of_freedom) == (one.groups, one.failures, one.degrees_of_freedom)
    assert (other.statistic, other.p_value) == (pytest.approx(one.statistic, rel=1e-9), pytest.approx(one.p_value, rel=1e-9))


def test_groups_that_never_overlap_after_the_first_still_give_an_answer():
    spells = pd.DataFrame({"group": ["x"] * 20 + ["y"] * 20, "at": [*range(1, 21), *range(30, 50)], "mechanism": "dust"})
    found = gray_test(spells.assign(spell_count=1), group="group", mechanism="dust")
    assert found.p_value < 1e-6


def test_a_group_gone_before_the_first_failure_takes_no_degree_of_freedom():
    spells = pd.concat([simulated(np.random.default_rng(6), groups=2), table("group at mechanism spell_count\n2 1 nan 5")])
    assert gray_test(spells, group="group", mechanism="dust").degrees_of_freedom == 1


@pytest.mark.parametrize(
    ("rows", "because"),
    [
        ("", Because.NO_SPELLS),
        ("A 0 5 dust 3\nA 0 6 nan 3", Because.ONE_LEVEL),
        ("A 0 5 wear 3\nB 0 6 nan 3", Because.NO_FAILURES),
        ("A 0 5 nan 3\nB 0 6 nan 3", Because.NO_FAILURES),
        ("A 0 5 dust 3\nB 1 6 dust 3", Because.LATE_ENTRY),
        ("A 0 5 dust 3\nB 0 4 nan 3", Because.NO_COMMON_AGE),
        ("A 0 5 dust 3\nB 0 5 dust 3", Because.NO_COMMON_AGE),
    ],
)
def test_what_cannot_be_compared_is_refused_with_a_reason(rows, because):
    found = gray_test(table(f"family entry at mechanism spell_count\n{rows}"), group="family", mechanism="dust")
    assert found.because is because
    assert (found.statistic, found.degrees_of_freedom, found.p_value) == (None, None, None)


def test_one_failure_gives_a_statistic():
    found = gray_test(
        table("family at mechanism spell_count\nA 5 dust 1\nA 7 nan 3\nB 6 nan 4"), group="family", mechanism="dust"
    )
    assert (found.failures, found.degrees_of_freedom) == (1, 1)
    assert 0 < found.p_value < 1


@pytest.mark.parametrize(("mine", "theirs"), [(4, 4), (1, 4), (4, 1), (1, 1)])
def test_a_first_failure_alone_has_the_log_rank_statistic_in_closed_form(mine, theirs):
    # One of m + n fails, in the group of m: (1 − m / (m + n))² over m·n / (m + n)².
    rows = table(f"family at mechanism spell_count\nA 5 dust 1\nA 7 nan {mine - 1}\nB 6 nan {theirs}")
    found = gray_test(rows, group="family", mechanism="dust")
    assert found.statistic == pytest.approx(theirs / mine)


def test_rows_of_no_spells_change_nothing():
    spells = simulated(np.random.default_rng(7), groups=2)
    none = spells.iloc[:5].assign(group=9, spell_count=0)
    found = gray_test(pd.concat([none, spells, none]), group="group", mechanism="dust")
    assert found == gray_test(spells, group="group", mechanism="dust")


def test_too_many_groups_are_refused_in_words():
    spells = pd.DataFrame({"group": range(101), "at": 5.0, "mechanism": "dust", "spell_count": 1})
    with pytest.raises(InputError, match="101 groups"):
        gray_test(spells, group="group", mechanism="dust")
