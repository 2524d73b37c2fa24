"""Turnbull's curve: against the product-limit curve, a plain self-consistency loop, a free optimiser, and in simulation."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import chi2

from pipelines.errors import InputError
from pipelines.estimates.survival import survival
from pipelines.estimates.turnbull import INTERVAL_COLUMNS, quantile, turnbull
from pipelines.vocabulary import Because
from tests.estimates.interval_referee import Referee
from tests.estimates.spells import random_spells, table, visited

SHARES = ["surviving_share", "low", "high"]


def seen(rng, spells: int, *, late_share: float = 0.0) -> pd.DataFrame:
    """Return Weibull lives (shape 2, scale 100) found at visits about 25 h apart, some followed from a later age on."""
    life, entry = 100 * rng.weibull(2, spells), np.where(rng.random(spells) < late_share, rng.uniform(0, 60, spells), 0.0)
    life, entry = life[life > entry], entry[life > entry]
    visits = entry[:, None] + np.cumsum(rng.exponential(25, (len(life), 12)), axis=1)
    visits = np.where(visits < (entry + rng.uniform(60, 220, len(life)))[:, None], visits, np.inf)
    lower = np.max(np.where((visits < life[:, None]) & (visits < np.inf), visits, entry[:, None]), axis=1)
    upper = np.min(np.where(visits >= life[:, None], visits, np.inf), axis=1)
    rows = pd.DataFrame({"entry": entry, "lower": lower, "upper": upper, "spell_count": 1})
    return rows[(upper < np.inf) | (lower > entry)].reset_index(drop=True)


@pytest.mark.parametrize("late_share", [0.0, 0.5])
def test_known_failure_times_give_the_product_limit_curve(late_share):
    spells = random_spells(3, spells=90, late_share=late_share)
    found = turnbull(spells, by=[])
    curve = survival(spells, by=[])
    before = curve.loc[curve["at"] <= found["given_at"].iloc[0], "surviving_share"].iloc[-1]
    curve = curve[(curve["failed"] > 0) & (curve["at"] > found["given_at"].iloc[0])]
    assert found["to_at"].tolist() == found["from_at"].tolist() == curve["at"].tolist()
    assert found["surviving_share"].tolist() == pytest.approx((curve["surviving_share"] / before).tolist(), rel=1e-8)
    assert found["at_risk"].tolist() == curve["at_risk"].tolist()


def test_with_known_failure_times_the_limits_are_near_those_of_greenwood():
    spells = random_spells(4, spells=150, late_share=0.0).query("at < 900")
    found, curve = turnbull(spells, by=[]).set_index("to_at"), survival(spells, by=[]).set_index("at")
    ends = found.index[np.unique(np.linspace(0, len(found) - 1, 12).round().astype(int))][1:-1]
    assert np.allclose(found.loc[ends, ["high"]], curve.loc[ends, ["high"]], atol=0.05)
    assert np.allclose(found.loc[ends, ["low"]], curve.loc[ends, ["low"]], atol=0.05)


def test_a_binomial_share_has_the_limits_of_its_likelihood_ratio():
    found = turnbull(table("entry lower upper spell_count\n0 0 10 6\n0 10 inf 14"), by=[]).iloc[0]
    for limit in (found["low"], found["high"]):
        drop = 14 * np.log(0.7 / limit) + 6 * np.log(0.3 / (1 - limit))
        assert 2 * drop == pytest.approx(chi2.ppf(0.95, 1), rel=4e-3)
    assert found["low"] < 0.7 < found["high"]


def test_all_found_failed_gives_a_share_of_0_with_an_upper_limit():
    found = turnbull(table("entry lower upper spell_count\n0 0 10 8"), by=[]).iloc[0]
    assert (found["surviving_share"], found["low"]) == (0, 0)
    assert found["high"] == pytest.approx(1 - np.exp(-chi2.ppf(0.95, 1) / 2 / 8), rel=2e-3)


def refereed_log(seed: int) -> pd.DataFrame:
    """Return a log: several visits each, one visit each, or a few spells at whole times, with and without late entry."""
    rng = np.random.default_rng(seed)
    if seed % 3 == 0:
        spells = seen(rng, 30, late_share=0.4 * (seed % 2)).round(0)
    elif seed % 3 == 1:
        life, visit = 100 * rng.weibull(2, 25), rng.uniform(10, 180, 25).round(0)
        lower, upper = np.where(life <= visit, 0.0, visit), np.where(life <= visit, visit, np.inf)
        spells = pd.DataFrame({"entry": 0.0, "lower": lower, "upper": upper, "spell_count": 1})
    else:
        entry = rng.integers(0, 5, 9)
        lower = entry + rng.integers(0, 5, 9)
        upper = lower + rng.choice([0, 1, 3, np.inf], 9)
        spells = pd.DataFrame({"entry": entry, "lower": lower, "upper": upper, "spell_count": rng.choice([1, 2, 3, 50], 9)})
    return spells[(spells["entry"] < spells["lower"]) | ((spells["upper"] < np.inf) & (spells["upper"] > spells["entry"]))]


@pytest.mark.parametrize("seed", range(12))
def test_an_independent_optimiser_finds_the_same_limits(seed):
    spells = refereed_log(seed)
    found, referee, goal = turnbull(spells, by=[]), Referee(spells), chi2.ppf(0.95, 1) / 2
    # Of the intervals between those with limits of their own, the wider neighbour's hold.
    own = np.unique(np.linspace(0, len(found) - 1, min(len(found), 12)).round().astype(int))
    for _, row in found.iloc[own].iterrows():
        for limit in (row["low"], row["high"]):
            least, most = referee.drops(row["given_at"], row["to_at"], float(np.clip(limit, 1e-11, 1 - 1e-7)))
            assert least <= goal * 1.01
            assert most >= goal * 0.99 or limit in (0, 1)


def test_what_need_not_have_failed_by_an_age_may_fail_after_it():
    # By 9 only the first 3 must have failed; the innermost interval of the others ends there too, but not they.
    found = turnbull(table("entry lower upper spell_count\n0 8 9 3\n0 7 10 3"), by=[]).iloc[0]
    assert (found["to_at"], found["surviving_share"], found["low"]) == (9, 0, 0)
    assert found["high"] == pytest.approx(1 - np.exp(-chi2.ppf(0.95, 1) / 2 / 3), rel=2e-3)


def test_of_equally_likely_curves_the_one_that_falls_last_is_given_with_open_limits():
    # Nobody is surely at risk in (3, 4] or in (5, 6], in either of which the two may have failed.
    found = turnbull(table("entry lower upper spell_count\n0 3 6 2\n4 5 8 1\n2 3 inf 4"), by=[])
    assert found["to_at"].tolist() == [4, 6]
    assert found[SHARES].iloc[0].tolist() == [1, 0, 1]
    assert found[SHARES].iloc[1, :2].tolist() == [0, 0]


def by_self_consistency(spells: pd.DataFrame, ends: np.ndarray) -> np.ndarray:
    """Return the curve after each end by Turnbull's own loop over cells, spell by spell, without late entry."""
    cuts = np.unique(np.concatenate([[0.0], spells["lower"], spells["upper"][spells["upper"] < np.inf], [1e9]]))
    upper = np.minimum(spells["upper"], 1e9).to_numpy()
    covers = (cuts[None, :-1] >= spells["lower"].to_numpy()[:, None]) & (cuts[None, 1:] <= upper[:, None])
    weight, share = spells["spell_count"].to_numpy(), np.full(len(cuts) - 1, 1 / (len(cuts) - 1))
    for _ in range(20_000):
        placed = covers * share
        share = weight @ (placed / placed.sum(axis=1, keepdims=True)) / weight.sum()
    return 1 - np.cumsum(share)[np.searchsorted(cuts[1:], ends)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_turnbulls_own_loop_gives_the_same_curve(seed):
    spells = seen(np.random.default_rng(seed), 40)
    found = turnbull(spells, by=[])
    assert found["surviving_share"].tolist() == pytest.approx(by_self_consistency(spells, found["to_at"]).tolist(), abs=2e-5)


def log_likelihood(spells: pd.DataFrame, ends: np.ndarray, hazard: np.ndarray) -> float:
    """Return the log-likelihood of steps of the cumulative hazard at the ends of the cells, given the entry ages."""
    running = np.append(0.0, np.cumsum(hazard))
    enter, start = (np.searchsorted(ends, spells[one], side="right") for one in ("entry", "lower"))
    stop = np.searchsorted(ends, np.minimum(spells["upper"], 1e12), side="right")
    between = running[start] - running[enter]
    failed = np.where(spells["upper"] < np.inf, -np.expm1(np.minimum(running[start] - running[stop], 0)), 1.0)
    return float((spells["spell_count"] * (np.log(np.maximum(failed, 1e-300)) - between)).sum())


@pytest.mark.parametrize("late_share", [0.0, 0.6])
def test_no_other_curve_is_more_likely(late_share):
    spells = seen(np.random.default_rng(6), 60, late_share=late_share).assign(entry=lambda rows: rows["entry"].round(-1))
    spells = spells[(spells["entry"] <= spells["lower"])]
    found = turnbull(spells, by=[])
    if late_share:
        assert spells["entry"].gt(0).mean() > 0.3
    assert found["given_at"].iloc[0] == 0
    ends = found["to_at"].to_numpy()
    hazard = -np.diff(np.log(np.maximum(np.append(1.0, found["surviving_share"]), 1e-13)))
    mine = log_likelihood(spells, ends, hazard)
    best = minimize(
        lambda steps: -log_likelihood(spells, ends, steps),
        np.full(len(ends), 0.1),
        method="L-BFGS-B",
        bounds=[(0, 40)] * len(ends),
        options={"maxfun": 200_000, "maxiter": 5_000},
    )
    assert mine >= -best.fun - 1e-6
    for _ in range(50):
        other = hazard * np.random.default_rng(1).uniform(0.8, 1.25, len(hazard)) + 1e-6
        assert log_likelihood(spells, ends, other) <= mine + 1e-9


@pytest.mark.parametrize("late_share", [0.0, 0.5])
def test_limits_hold_the_truth_in_simulation(late_share):
    rng = np.random.default_rng(8)
    held, looked = np.zeros(3), np.zeros(3)
    for _ in range(80):
        found = turnbull(seen(rng, 60, late_share=late_share), by=[])
        given = found["given_at"].iloc[0]
        for number, at in enumerate((47.2, 83.3, 115.0)):
            place = np.searchsorted(found["to_at"], at, side="right") - 1
            if place >= 0:
                row = found.iloc[place]
                held[number] += row["low"] <= np.exp((given / 100) ** 2 - (row["to_at"] / 100) ** 2) <= row["high"]
                looked[number] += 1
    assert (held / looked >= 0.92).all(), held / looked


def test_limits_hold_the_truth_in_the_tail_with_a_single_visit_each():
    rng, held = np.random.default_rng(12), []
    for _ in range(100):
        life, visit = 100 * rng.weibull(2, 25), rng.uniform(10, 180, 25)
        lower, upper = np.where(life <= visit, 0.0, visit), np.where(life <= visit, visit, np.inf)
        found = turnbull(pd.DataFrame({"entry": 0.0, "lower": lower, "upper": upper, "spell_count": 1}), by=[])
        row = found[found["to_at"] <= 140].iloc[-1]
        held.append(row["low"] <= np.exp(-((row["to_at"] / 100) ** 2)) <= row["high"])
    assert np.mean(held) >= 0.95


def test_visits_far_apart_do_not_shift_the_curve():
    spells = random_spells(9, spells=4000, censor_every=300)
    found = turnbull(visited(spells.query("entry == 0"), every=300), by=[])
    truth = np.exp(-((found["to_at"] / 800) ** 1.8))
    assert np.allclose(found["surviving_share"][:4], truth[:4], atol=0.03)


def test_the_early_collapse_is_left_behind():
    early = table("entry lower upper spell_count\n0 0 20 1\n0 20 30 1")
    late = table("entry lower upper spell_count\n50 60 80 10\n50 80 100 5\n50 120 inf 15")
    found = turnbull(pd.concat([early, late]), by=[])
    assert found["given_at"].unique().tolist() == [50]
    assert found["surviving_share"].tolist() == pytest.approx([20 / 30, 15 / 30])
    alone = turnbull(late.assign(entry=0), by=[])
    columns = ["from_at", "to_at", *SHARES]
    assert np.allclose(found[columns], alone[columns], atol=1e-3)


def test_late_entries_may_be_counted_apart():
    spells = seen(np.random.default_rng(10), 150, late_share=0.5).assign(entry=lambda rows: rows["entry"].astype(int))
    entries = spells[spells["entry"] > 0].groupby("entry", as_index=False)["spell_count"].sum()
    pd.testing.assert_frame_equal(turnbull(spells.drop(columns="entry"), by=[], entries=entries), turnbull(spells, by=[]))
    with pytest.raises(InputError, match="than ever entered"):
        turnbull(spells.drop(columns="entry"), by=[], entries=entries.assign(spell_count=10))


@pytest.mark.parametrize("factor", [1.0, 1e-6, 1e6])
def test_permuted_counted_rows_and_rescaled_time_give_the_same_shares(factor):
    spells = pd.concat([seen(np.random.default_rng(seed), 60, late_share=0.3).round(0).assign(group=seed) for seed in (1, 2)])
    spells = spells[(spells["entry"] < spells["lower"]) | (spells["upper"] < np.inf)].query("lower <= upper and upper > entry")
    spells = spells[(spells["lower"] < spells["upper"]) | (spells["entry"] < spells["lower"])]
    other = (
        spells.groupby(["group", "entry", "lower", "upper"], as_index=False)["spell_count"].sum().sample(frac=1, random_state=1)
    )
    other[["entry", "lower", "upper"]] *= factor
    one, other = turnbull(spells, by=["group"]), turnbull(other, by=["group"])
    times = ["from_at", "to_at", "given_at"]
    assert np.allclose(other[times], one[times] * factor, rtol=1e-12)
    assert np.allclose(other["surviving_share"], one["surviving_share"], atol=1e-8)
    assert np.allclose(other[SHARES], one[SHARES], atol=1e-3)


SPELL = st.tuples(st.integers(0, 4), st.integers(0, 4), st.sampled_from([0, 1, 3, np.inf]), st.integers(1, 3))


@settings(deadline=None, max_examples=80)
@given(st.lists(SPELL, min_size=1, max_size=8))
def test_any_small_record_gives_a_falling_curve_between_its_limits(rows):
    spells = pd.DataFrame(rows, columns=["entry", "wait", "width", "spell_count"])
    spells["lower"] = spells["entry"] + spells["wait"]
    spells["upper"] = spells["lower"] + spells["width"]
    spells = spells[(spells["wait"] > 0) | spells["width"].between(1, 3)]
    found = turnbull(spells, by=[])
    assert found.empty == (not (spells["upper"] < np.inf).any())
    assert found[INTERVAL_COLUMNS].notna().all(axis=None)
    assert (np.diff(np.append(1.0, found["surviving_share"])) <= 1e-12).all()
    assert ((found["low"] >= 0) & (found["low"] <= found["surviving_share"]) & (found["surviving_share"] <= found["high"])).all()
    assert (found["from_at"].to_numpy()[1:] >= found["to_at"].to_numpy()[:-1]).all()


def test_many_distinct_times_are_rounded_outward():
    spells = random_spells(11, spells=3000, late_share=0.2)
    found = turnbull(spells, by=[])
    curve = survival(spells, by=[])
    assert len(found) <= 150
    before = curve.loc[curve["at"] <= found["given_at"].iloc[0], "surviving_share"].iloc[-1]
    exact = curve["surviving_share"].to_numpy()[np.searchsorted(curve["at"], found["to_at"], side="right") - 1] / before
    assert np.allclose(found["surviving_share"], exact, atol=0.01)


def test_an_age_by_which_a_share_failed_is_the_end_of_its_interval():
    curve = table("""
        from_at to_at surviving_share low high
        0       10    0.9             0.5 1.0
        15      20    0.6             0.3 0.8
        20      30    0.4             0.1 0.5
        """)
    median, b10 = quantile(curve, share=0.5), quantile(curve, share=0.1)
    assert (median.estimate, median.low, median.high, median.because) == (30, None, 30, Because.LIMIT_NOT_REACHED)
    assert (b10.estimate, b10.low, b10.high) == (10, None, 20)
    late = quantile(curve, share=0.7)
    assert (late.estimate, late.low, late.high, late.because) == (None, 15, None, Because.NOT_REACHED)


def test_a_group_without_failures_or_entries_leaves_the_others_alone():
    well, failed = table("entry lower upper spell_count\n0 500 inf 40"), table("entry lower upper spell_count\n0 0 10 8")
    assert turnbull(well, by=[]).empty
    assert turnbull(well.drop(columns="entry"), by=[], entries=well.iloc[:0][["entry", "spell_count"]]).empty
    both = turnbull(pd.concat([well.assign(group=1), failed.assign(group=2)]), by=["group"])
    assert both["group"].tolist() == [2]


def test_no_failures_and_no_spells_give_no_rows():
    spells = table("entry lower upper spell_count\n0 5 inf 3\n0 2 4 0")
    assert turnbull(spells, by=["entry"]).columns.tolist() == ["entry", *INTERVAL_COLUMNS]
    assert turnbull(spells, by=[]).empty
    assert turnbull(spells.iloc[:0], by=[]).empty
    assert quantile(turnbull(spells, by=[]), share=0.5).because is Because.NO_FAILURES


def test_one_unit_and_one_failure_give_limits():
    found = turnbull(table("entry lower upper spell_count\n0 5 5 1"), by=[]).iloc[0]
    assert (found["from_at"], found["surviving_share"], found["low"]) == (5, 0, 0)
    assert 0.8 < found["high"] < 0.9


def test_a_thousand_groups_are_no_trouble():
    spells = table("entry lower upper spell_count\n0 2 5 1\n0 5 inf 2")
    spells = pd.concat([spells.assign(group=number) for number in range(1000)])
    assert turnbull(spells, by=["group"])["surviving_share"].round(9).unique().tolist() == [round(2 / 3, 9)]


@pytest.mark.parametrize(
    ("row", "message"),
    [("6 5 inf 1", "at or after"), ("0 5 4 1", "before it begins"), ("0 0 0 1", "no length"), ("0 2 5 -2", "count")],
)
def test_a_spell_that_cannot_be_is_refused_in_words(row, message):
    with pytest.raises(InputError, match=message):
        turnbull(table(f"entry lower upper spell_count\n0 9 12 1\n{row}"), by=[])
