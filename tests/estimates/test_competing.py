"""Cumulative incidence by mechanism: against lifelines, the Kaplan–Meier curve, a plain loop, and in the hard corners."""

from __future__ import annotations

import lifelines
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.errors import InputError
from pipelines.estimates.competing import NOT_RECORDED, cumulative_incidence
from pipelines.estimates.survival import survival
from tests.estimates.spells import random_spells, table

SHARES = ["failed_share", "low", "high"]
MECHANISMS = ["contamination", "joint_loose", "track_wear"]


def spells_by_mechanism(seed: int, **kind) -> pd.DataFrame:
    spells = random_spells(seed, **kind)
    named = np.random.default_rng(seed).choice(MECHANISMS, len(spells))
    return spells.assign(mechanism=pd.Series(named).where(spells["is_failure"]))


def without_flag(spells: pd.DataFrame) -> pd.DataFrame:
    return spells.drop(columns="is_failure")


@pytest.mark.parametrize("late_share", [0.0, 0.4])
def test_without_ties_the_shares_and_limits_are_those_of_lifelines(late_share):
    spells = spells_by_mechanism(3, spells=150, late_share=late_share)
    spells = spells[spells["at"] > 60] if late_share else spells
    curves = cumulative_incidence(without_flag(spells), by=[])
    code = spells["mechanism"].map({name: number for number, name in enumerate(MECHANISMS, 1)}).fillna(0).astype(int)
    for number, name in enumerate(MECHANISMS, 1):
        mine = curves[(curves["mechanism"] == name) & (curves["at"] > 0)]
        fitter = lifelines.AalenJohansenFitter()
        with np.errstate(divide="ignore", invalid="ignore"):
            fitter.fit(spells["at"], code, event_of_interest=number, entry=spells["entry"] if late_share else None)
        share = fitter.cumulative_density_.iloc[:, 0]
        place = np.searchsorted(share.index, mine["at"])
        assert np.allclose(mine["failed_share"], share.iloc[place], rtol=1e-12, atol=1e-15)
        if not late_share:
            limits = fitter.confidence_interval_.iloc[place].to_numpy()
            known = (mine["failed_share"] > 0).to_numpy() & (mine["at_risk"] > 1).to_numpy()
            assert np.allclose(mine[["low", "high"]][known], limits[known], rtol=1e-9)


@pytest.mark.parametrize("is_whole", [True, False])
def test_the_mechanisms_and_the_surviving_share_add_up_to_one(is_whole):
    spells = spells_by_mechanism(5, spells=900, groups=3, is_whole=is_whole)
    shares = cumulative_incidence(without_flag(spells), by=["group"]).groupby(["group", "at"])["failed_share"].sum()
    curve = survival(spells, by=["group"]).set_index(["group", "at"])["surviving_share"]
    assert np.allclose(shares + curve, 1, rtol=0, atol=1e-12)


def test_one_mechanism_alone_has_greenwoods_variance():
    spells = random_spells(6, spells=200, is_whole=True)
    one = cumulative_incidence(spells.assign(mechanism=spells["is_failure"].map({True: "wear", False: None})), by=[])
    curve = survival(spells, by=[])
    inside = curve["surviving_share"].between(0, 1, inclusive="neither").to_numpy()
    share = one["failed_share"][inside]
    error = np.log(np.log(one["low"][inside]) / np.log(share)) / 1.959963984540054 * share * -np.log(share)
    failed, at_risk = curve["failed"], curve["at_risk"]
    greenwood = (failed[1:] / (at_risk[1:] * (at_risk[1:] - failed[1:]).where(inside[1:], 1))).cumsum()
    assert np.allclose(error, (curve["surviving_share"][1:] * np.sqrt(greenwood))[inside[1:]], rtol=1e-9)


def by_hand(spells: pd.DataFrame) -> dict[tuple, tuple[float, float]]:
    """Return share and variance of each (mechanism, time), step by step from the definition of both."""
    steps, found = [], {}
    surviving, names = 1.0, sorted(set(spells["mechanism"].dropna()))
    share = dict.fromkeys(names, 0.0)
    for at in sorted(set(spells["at"])):
        at_risk = spells.loc[(spells["entry"] < at) & (at <= spells["at"]), "spell_count"].sum()
        here = spells[spells["at"] == at]
        chance = {name: here.loc[here["mechanism"] == name, "spell_count"].sum() / at_risk for name in names}
        share = {name: share[name] + surviving * chance[name] for name in names}
        steps.append((at_risk, surviving, chance, dict(share)))
        surviving *= 1 - sum(chance.values())
        for name in names:
            variance = 0.0
            for at_risk_then, before, moved, then in steps:
                everything = sum(moved.values())
                rest = (share[name] - then[name]) / (1 - everything) if everything < 1 - 1e-12 and before > 1e-12 else 0.0
                pull = {other: before * (other == name) - rest for other in names}
                first = sum(pull[other] * moved[other] for other in names)
                second = sum(pull[other] ** 2 * moved[other] for other in names)
                variance += (second - first**2) / at_risk_then
            found[name, at] = (share[name], variance)
    return found


SPELL = st.tuples(st.integers(0, 6), st.integers(1, 6), st.sampled_from(["a", "b", None]), st.integers(1, 3))


@settings(deadline=None, max_examples=60)
@given(st.lists(SPELL, min_size=1, max_size=10))
def test_any_small_record_gives_the_sums_by_hand(rows):
    spells = pd.DataFrame(rows, columns=["entry", "length", "mechanism", "spell_count"])
    spells["at"] = spells["entry"] + spells["length"]
    curves = cumulative_incidence(spells, by=[])
    expected = by_hand(spells)
    assert len(curves[curves["at"] > 0]) == len(expected)
    for row in curves[curves["at"] > 0].itertuples():
        share, variance = expected[row.mechanism, row.at]
        assert row.failed_share == pytest.approx(share, abs=1e-12)
        if 1e-9 < share < 1 - 1e-9:
            factor = np.exp(1.959963984540054 * np.sqrt(max(variance, 0)) / (share * -np.log(share)))
            assert (row.low, row.high) == pytest.approx((share**factor, share ** (1 / factor)), rel=1e-6, abs=1e-9)


def test_limits_hold_the_truth_as_often_as_they_say():
    rng = np.random.default_rng(4)
    lives, wears, ends = (scale * rng.exponential(1, (2000, 60)) for scale in (100, 150, 200))
    at = np.minimum(np.minimum(lives, wears), ends)
    mechanism = np.where(at == lives, "a", np.where(at == wears, "b", None))
    spells = pd.DataFrame(
        {"trial": np.repeat(np.arange(2000), 60), "entry": 0.0, "at": at.ravel(), "mechanism": mechanism.ravel()}
    )
    curves = cumulative_incidence(spells.assign(spell_count=1), by=["trial"])
    last = curves[(curves["mechanism"] == "a") & (curves["at"] <= 80)].groupby("trial").last()
    truth = (1 / 100) / (1 / 100 + 1 / 150) * (1 - np.exp(-80 * (1 / 100 + 1 / 150)))
    assert 0.935 <= ((last["low"] <= truth) & (truth <= last["high"])).mean() <= 0.965


def test_a_failure_without_a_mechanism_has_a_value_of_its_own():
    spells = table("entry at is_failure mechanism spell_count\n0 5 True wear 2\n0 6 True nan 1\n0 7 False nan 1")
    curves = cumulative_incidence(spells, by=[]).groupby("mechanism").last()
    assert curves["failed_share"].to_dict() == pytest.approx({NOT_RECORDED: 0.25, "wear": 0.5})


def test_a_mechanism_on_a_spell_that_did_not_fail_is_refused():
    with pytest.raises(InputError, match="without failure"):
        cumulative_incidence(table("entry at is_failure mechanism spell_count\n0 5 False wear 2"), by=[])


def test_every_group_has_every_mechanism():
    spells = table("""
        family entry at mechanism spell_count
        A      0     5  wear      2
        A      0     6  dust      1
        B      0     4  wear      3
        B      0     9  nan       3
        C      0     9  nan       1
        """)
    curves = cumulative_incidence(spells, by=["family"])
    assert curves.groupby(["family", "mechanism"]).size().to_dict() == {
        ("A", "dust"): 3, ("A", "wear"): 3, ("B", "dust"): 3, ("B", "wear"): 3, ("C", "dust"): 2, ("C", "wear"): 2,
    }  # fmt: skip
    assert curves.loc[curves["failed_share"] == 0, ["low", "high"]].eq(0).all(axis=None)


def test_late_entries_may_be_counted_apart():
    spells = without_flag(spells_by_mechanism(5, spells=400, groups=2, is_whole=True))
    entries = spells[spells["entry"] > 0].groupby(["group", "entry"], as_index=False)["spell_count"].sum()
    ends = spells.groupby(["group", "at", "mechanism"], as_index=False, dropna=False)["spell_count"].sum()
    together = cumulative_incidence(spells, by=["group"])
    pd.testing.assert_frame_equal(cumulative_incidence(ends, by=["group"], entries=entries), together)


@pytest.mark.parametrize("factor", [1.0, 1e-6, 1e6])
def test_permuted_rows_and_rescaled_time_give_the_same_shares(factor):
    spells = without_flag(spells_by_mechanism(7, spells=300, groups=3))
    other = spells.sample(frac=1, random_state=1)
    other = cumulative_incidence(other.assign(at=other["at"] * factor, entry=other["entry"] * factor), by=["group"])
    one = cumulative_incidence(spells, by=["group"])
    assert np.allclose(other["at"], one["at"] * factor, rtol=1e-12)
    pd.testing.assert_frame_equal(one.drop(columns="at"), other.drop(columns="at"))


@pytest.mark.parametrize("mechanism", ["wear", 3])
def test_one_failure_of_one_unit_gives_a_share_of_one_without_limits(mechanism):
    spells = pd.DataFrame({"entry": [0.0], "at": [5.0], "mechanism": [mechanism], "spell_count": [1]})
    last = cumulative_incidence(spells, by=[]).iloc[-1]
    assert last[["mechanism", "at", "failed_share"]].tolist() == [mechanism, 5, 1]
    assert last[["low", "high"]].isna().all()


def test_no_failures_and_no_spells_give_no_rows():
    spells = table("entry at mechanism spell_count\n0 5 nan 3\n0 6 wear 0")
    columns = ["entry", "mechanism", "at", *SHARES, "at_risk", "failed"]
    assert cumulative_incidence(spells, by=["entry"]).columns.tolist() == columns
    assert cumulative_incidence(spells, by=[]).empty
    assert cumulative_incidence(spells.iloc[:0], by=[]).empty


def test_a_thousand_groups_are_no_trouble():
    spells = spells_by_mechanism(8, spells=3000, groups=1000, is_whole=True)
    assert cumulative_incidence(without_flag(spells), by=["group"])["group"].nunique() == spells["group"].nunique()


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("5 5 wear 1", "enters at or after"),
        ("0 0 wear 1", "no length"),
        ("0 inf nan 1", "ends nowhere"),
        ("0 5 wear -2", "count"),
    ],
)
def test_a_spell_that_cannot_be_is_refused_in_words(row, message):
    with pytest.raises(InputError, match=message):
        cumulative_incidence(table(f"entry at mechanism spell_count\n0 9 wear 1\n{row}"), by=[])


def test_the_row_at_zero_counts_those_who_entered_at_zero():
    curve = cumulative_incidence(table("entry at mechanism spell_count\n0 5 wear 3\n2 6 nan 4"), by=[])
    assert curve["at_risk"].tolist() == [3, 7, 4]
    assert curve["failed"].tolist() == [0, 3, 0]


def test_a_missing_column_is_named():
    with pytest.raises(InputError, match="mechanism"):
        cumulative_incidence(table("entry at spell_count\n0 9 1"), by=[])
