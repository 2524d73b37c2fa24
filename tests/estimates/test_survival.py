"""Kaplan–Meier curves from counts: against lifelines on rows, against a plain loop, and in the hard corners."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import wilson
from pipelines.estimates.survival import drawn, quantile, share_at, survival
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table

SHARES = ["surviving_share", "low", "high"]


def counted(spells: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    return spells.groupby([*by, "entry", "at", "is_failure"], as_index=False)["spell_count"].sum()


@pytest.mark.parametrize("late_share", [0.0, 0.4, 1.0])
@pytest.mark.parametrize("is_whole", [True, False])
def test_counts_give_the_numbers_of_lifelines_on_rows(late_share, is_whole):
    spells = random_spells(3, spells=600, groups=3, late_share=late_share, is_whole=is_whole)
    spells = spells[spells["at"] > 60]
    curves = survival(counted(spells, ["group"]), by=["group"], level=0.9)
    for number, rows in spells.groupby("group"):
        mine = curves[(curves["group"] == number) & (curves["at"] > 0)]
        fitter = lifelines.KaplanMeierFitter(alpha=0.1).fit(rows["at"], rows["is_failure"], entry=rows["entry"])
        theirs = np.column_stack([fitter.survival_function_, fitter.confidence_interval_])
        theirs = theirs[np.searchsorted(fitter.survival_function_.index, mine["at"])]
        known = mine["surviving_share"] > 0
        assert np.allclose(mine.loc[known, SHARES], theirs[known], rtol=1e-9, atol=0)
        assert mine["at"].tolist() == sorted(set(rows["at"]))


def by_hand(spells: pd.DataFrame) -> list[tuple[float, float, int]]:
    """Return time, share and number at risk by the definition: a product over failure times, spell by spell."""
    share, found = 1.0, []
    for at in sorted(set(spells["at"])):
        at_risk = spells.loc[(spells["entry"] < at) & (at <= spells["at"]), "spell_count"].sum()
        failed = spells.loc[(spells["at"] == at) & spells["is_failure"], "spell_count"].sum()
        share *= 1 - failed / at_risk
        found.append((at, share, at_risk))
    return found


SPELL = st.tuples(st.integers(0, 8), st.integers(1, 6), st.booleans(), st.integers(1, 3))


@settings(deadline=None, max_examples=60)
@given(st.lists(SPELL, min_size=1, max_size=12))
def test_any_small_record_gives_the_product_by_hand(rows):
    spells = pd.DataFrame(rows, columns=["entry", "length", "is_failure", "spell_count"])
    spells["at"] = spells["entry"] + spells["length"]
    curve = survival(spells, by=[])
    expected = by_hand(spells)
    assert curve["at"].tolist() == [0.0, *(at for at, _, _ in expected)]
    assert curve["surviving_share"].tolist()[1:] == pytest.approx([share for _, share, _ in expected], abs=1e-12)
    assert curve["at_risk"].tolist()[1:] == [at_risk for _, _, at_risk in expected]
    assert curve.loc[curve["surviving_share"] == 0, ["low", "high"]].isna().all(axis=None)
    whole = curve[curve["surviving_share"] == 1]
    assert whole[["low", "high"]].eq(1).all(axis=None)


def test_the_row_at_zero_counts_those_who_entered_at_zero():
    curve = survival(table("entry at is_failure spell_count\n0 5 True 3\n2 6 False 4"), by=[])
    assert curve.iloc[0].to_dict() == {
        "at": 0, "surviving_share": 1, "low": 1, "high": 1, "at_risk": 3, "failed": 0, "censored": 0,
    }  # fmt: skip


def test_who_enters_at_a_failure_time_is_not_at_risk_then():
    curve = survival(table("entry at is_failure spell_count\n0 5 True 1\n0 9 False 1\n5 9 False 8"), by=[])
    assert curve.set_index("at").loc[5, ["surviving_share", "at_risk"]].tolist() == [0.5, 2]


def test_a_curve_that_loses_all_at_risk_by_censoring_goes_on():
    curve = survival(table("""
        entry at is_failure spell_count
        0     2  True       1
        0     3  False      3
        4     5  True       1
        4     6  False      3
        """), by=[])  # fmt: skip
    assert curve["surviving_share"].tolist() == pytest.approx([1, 0.75, 0.75, 0.75 * 0.75, 0.75 * 0.75])
    assert curve["at_risk"].tolist() == [4, 4, 3, 4, 3]


def test_lifelines_cannot_read_that_record_so_the_bridge_is_needed():
    with pytest.raises(lifelines.exceptions.StatError):
        lifelines.KaplanMeierFitter().fit([2, 3, 3, 5, 6, 6], [1, 0, 0, 1, 0, 0], entry=[0, 0, 0, 4, 4, 4])


def test_late_entries_may_be_counted_apart():
    spells = random_spells(5, spells=400, groups=2, is_whole=True)
    together = survival(spells, by=["group"])
    entries = spells[spells["entry"] > 0].groupby(["group", "entry"], as_index=False)["spell_count"].sum()
    ends = spells.groupby(["group", "at", "is_failure"], as_index=False)["spell_count"].sum()
    pd.testing.assert_frame_equal(survival(ends, by=["group"], entries=entries), together)


def test_more_late_entries_than_spells_are_refused():
    ends = table("at is_failure spell_count\n5 True 1")
    with pytest.raises(InputError, match="than ever entered"):
        survival(ends, by=[], entries=table("entry spell_count\n1 2"))


def test_an_age_at_which_more_end_than_had_entered_is_refused_though_the_totals_agree():
    ends = table("at is_failure spell_count\n5 True 2\n9 False 2")
    assert survival(ends, by=[], entries=table("entry spell_count\n4 3"))["at_risk"].tolist() == [1, 4, 2]
    with pytest.raises(InputError, match="than ever entered"):
        survival(ends, by=[], entries=table("entry spell_count\n7 3"))


def test_permuted_rows_give_the_same_curves():
    spells = random_spells(7, spells=300, groups=3)
    pd.testing.assert_frame_equal(survival(spells, by=["group"]), survival(spells.sample(frac=1, random_state=1), by=["group"]))


@pytest.mark.parametrize("factor", [1e-6, 1 / 24, 1e6])
def test_rescaled_time_gives_the_same_shares(factor):
    spells = random_spells(8, spells=200)
    rescaled = spells.assign(entry=spells["entry"] * factor, at=spells["at"] * factor)
    one, other = survival(spells, by=[]), survival(rescaled, by=[])
    assert np.allclose(other["at"], one["at"] * factor, rtol=1e-12)
    pd.testing.assert_frame_equal(one.drop(columns="at"), other.drop(columns="at"))


def test_no_failures_give_a_curve_at_one():
    curve = survival(table("entry at is_failure spell_count\n0 5 False 3"), by=[])
    assert curve[SHARES].eq(1).all(axis=None)
    assert quantile(curve, share=0.1).because is Because.NOT_REACHED


def test_one_unit_that_fails_gives_a_curve_to_zero_without_limits():
    curve = survival(table("entry at is_failure spell_count\n0 5 True 1"), by=[])
    assert curve["surviving_share"].tolist() == [1, 0]
    median = quantile(curve, share=0.5)
    assert (median.estimate, median.low, median.high, median.because) == (5, None, None, Because.LIMIT_NOT_REACHED)


def test_no_spells_give_no_rows():
    empty = random_spells(1, spells=1).iloc[:0]
    assert survival(empty, by=["group"]).columns.tolist() == ["group", "at", *SHARES, "at_risk", "failed", "censored"]
    assert survival(empty, by=[]).empty


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("5 5 True 1", "enters at or after"),
        ("6 5 True 1", "enters at or after"),
        ("0 0 True 1", "no length"),
        ("-1 5 True 1", "negative time"),
        ("0 nan True 1", "missing"),
        ("0 inf False 1", "ends nowhere"),
        ("0 5 True -2", "count"),
    ],
)
def test_a_spell_that_cannot_be_is_refused_in_words(row, message):
    with pytest.raises(InputError, match=message):
        survival(table(f"entry at is_failure spell_count\n0 9 True 1\n{row}"), by=[])


def test_a_missing_column_is_named():
    with pytest.raises(InputError, match="is_failure"):
        survival(table("entry at spell_count\n0 9 1"), by=[])


def test_rows_of_no_spells_change_nothing():
    spells = table("entry at is_failure spell_count\n0 9 True 2\n0 7 True 0")
    assert survival(spells, by=[])["at"].tolist() == [0, 9]


def test_fitting_leaves_the_warnings_of_numpy_as_they_were():
    with np.errstate(divide="raise", invalid="raise"):
        survival(random_spells(2, spells=30), by=[])
        assert (np.geterr()["divide"], np.geterr()["invalid"]) == ("raise", "raise")


@pytest.mark.parametrize(("share", "estimate", "low", "high"), [(0.25, 2, 1, None), (0.1, 1, 1, 3), (0.9, None, 3, None)])
def test_an_age_by_which_a_share_failed_is_the_first_at_or_below_it(share, estimate, low, high):
    curve = table("""
        at surviving_share low high
        0  1.0             1.0 1.0
        1  0.9             0.6 0.95
        2  0.75            0.4 0.92
        3  0.3             0.1 0.88
        """)
    found = quantile(curve, share=share)
    assert (found.estimate, found.low, found.high) == (estimate, low, high)


def test_the_drawn_part_runs_from_the_first_to_the_last_row_with_enough_at_risk():
    curve = pd.DataFrame({"at": [0.0, 5.0, 8.0, 9.0, 12.0], "at_risk": [2, 10, 9, 12, 4]})
    shown = drawn(curve, spell_count=40)
    assert shown.curve["is_drawn"].tolist() == [False, True, True, True, False]
    assert (shown.drawn_from, shown.min_at_risk) == (5.0, 10)


def test_with_everyone_there_from_the_start_the_curve_is_drawn_from_zero():
    curve = survival(table("entry at is_failure spell_count\n0 5 True 4\n0 6 False 8"), by=[])
    shown = drawn(curve, spell_count=12)
    assert shown.drawn_from == 0
    assert shown.curve["is_drawn"].tolist() == [True, True, False]
    pd.testing.assert_frame_equal(shown.curve.drop(columns="is_drawn"), curve)


@pytest.mark.parametrize(("spell_count", "least"), [(40, 10), (200, 10), (201, 11), (1000, 50)])
def test_the_guard_asks_for_ten_and_for_five_percent(spell_count, least):
    curve = pd.DataFrame({"at": [0.0], "at_risk": [spell_count]})
    assert drawn(curve, spell_count=spell_count).min_at_risk == least


def test_nothing_is_drawn_where_too_few_were_ever_at_risk():
    shown = drawn(pd.DataFrame({"at": [0.0, 1.0], "at_risk": [3, 2]}), spell_count=3)
    assert shown.drawn_from is None
    assert not shown.curve["is_drawn"].any()


@pytest.mark.parametrize("late_share", [0.0, 0.4])
def test_the_share_at_an_age_is_that_of_lifelines_with_its_limits(late_share):
    spells = random_spells(8, spells=400, late_share=late_share)
    curve = survival(counted(spells, []), by=[], level=0.9)
    fitter = lifelines.KaplanMeierFitter(alpha=0.1).fit(spells["at"], spells["is_failure"], entry=spells["entry"])
    for age in (150.0, 417.3, 800.0, float(spells.loc[spells["is_failure"], "at"].median())):
        found, at_risk = share_at(curve, counted(spells, []), age=age, level=0.9)
        limits = fitter.confidence_interval_
        limits = limits[limits.index <= age].iloc[-1]
        assert (found.estimate, found.low, found.high) == pytest.approx((fitter.predict(age), *limits), rel=1e-9)
        assert at_risk == ((spells["entry"] < age) & (spells["at"] >= age)).sum()


def at_age(rows: str, age: float):
    spells = table("entry at is_failure spell_count\n" + rows)
    return share_at(survival(spells, by=[]), spells, age=age)


def test_where_nobody_or_everybody_failed_the_limits_are_wilsons():
    rows = "0 10 False 5\n0 20 True 7\n4 20 True 3"
    none, at_risk = at_age(rows, 8)
    assert (none, at_risk) == (wilson(15, 15), 15)
    assert at_age(rows, 4) == (wilson(12, 12), 12)
    assert at_age(rows, 15) == (wilson(10, 10), 10)
    # all ten fail at 20, and nobody can be good after that
    for age in (20, 500):
        assert at_age(rows, age)[0] == wilson(0, 10)


def test_beyond_the_last_exit_and_before_the_first_entry_nothing_is_told():
    rows = "30 50 True 5\n40 60 False 5"
    for age in (10, 61):
        found, at_risk = at_age(rows, age)
        assert (found, at_risk) == (Estimate.refused(Because.NOT_REACHED), 0)
    assert at_age(rows, 60)[0].estimate == pytest.approx(0.5)
    assert at_age("0 50 False 3", 51)[0].because is Because.NOT_REACHED


def test_the_share_at_an_age_knows_neither_order_nor_unit():
    spells = counted(random_spells(9, spells=200), [])
    shuffled = spells.sample(frac=1, random_state=2)
    expected = share_at(survival(spells, by=[]), spells, age=500.0)
    assert share_at(survival(shuffled, by=[]), shuffled, age=500.0) == expected
    longer = spells.assign(entry=spells["entry"] * 8, at=spells["at"] * 8)
    assert share_at(survival(longer, by=[]), longer, age=4000.0) == expected


@pytest.mark.parametrize("age", [0.0, -1.0, np.inf, np.nan])
def test_an_age_that_is_none_is_refused_in_words(age):
    with pytest.raises(InputError, match="no age"):
        at_age("0 10 True 3", age)


def test_nothing_watched_has_no_share_at_an_age():
    spells = random_spells(1, spells=5).iloc[:0]
    assert share_at(survival(spells, by=[]), spells, age=5.0) == (Estimate.refused(Because.NO_SPELLS), 0)
