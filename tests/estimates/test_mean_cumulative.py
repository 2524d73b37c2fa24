"""Mean failures per unit by age: by hand, against plain loops over the units, and on fleets of a known rate."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.mean_cumulative import difference, mean_cumulative
from pipelines.vocabulary import Because
from tests.estimates.recurrences import random_units
from tests.estimates.spells import table

THREE = table("unit entry exit\n1 0 10\n2 0 20\n3 5 20")


def only(events: str, units: pd.DataFrame = THREE, **rest):
    (found,) = mean_cumulative(table("unit at\n" + events), units, by=[], **{"min_at_risk": 1, **rest})
    return found


def test_each_failure_adds_one_over_those_at_risk():
    # By hand: at 5 two are at risk, the third enters just then; at 8 three; at 15 two.
    curve = only("1 5\n2 8\n2 15\n3 15").curve
    assert curve["at"].tolist() == [0, 5, 8, 10, 15, 20]
    assert curve["at_risk"].tolist() == [2, 2, 3, 3, 2, 2]
    assert curve["failed"].tolist() == [0, 1, 1, 0, 2, 0]
    assert curve["mean_count"].tolist() == pytest.approx([0, 1 / 2, 5 / 6, 5 / 6, 11 / 6, 11 / 6])
    assert curve["poisson_error"].iloc[-1] == pytest.approx(np.sqrt(1 / 4 + 1 / 9 + 2 / 4))


def robust_variance(events: pd.DataFrame, units: pd.DataFrame, age: float) -> float:
    """Σ over units of (Σ over ages of (own failures − mean failures, while at risk) / at risk)², as the definition has it."""
    own = dict.fromkeys(units["unit"], 0.0)
    for at in sorted(set(events.loc[events["at"] <= age, "at"])):
        at_risk = units.loc[(units["entry"] < at) & (at <= units["exit"]), "unit"]
        failing = events.loc[events["at"] == at, "unit"]
        for unit in at_risk:
            own[unit] += ((failing == unit).sum() - len(failing) / len(at_risk)) / len(at_risk)
    return sum(value**2 for value in own.values())


def test_the_robust_error_is_the_sum_over_units_with_late_entry_ties_and_several_stretches():
    events, units = random_units(3, units=40, spread=1.0)
    events["at"], units = np.ceil(events["at"] / 20) * 20, units.assign(exit=np.ceil(units["exit"] / 20) * 20)
    again = units.assign(entry=units["exit"] + 35, exit=units["exit"] + 215).iloc[::3]
    events = pd.concat([events, pd.DataFrame({"unit": again["unit"], "at": again["exit"] - 60})], ignore_index=True)
    units = pd.concat([units, again], ignore_index=True)
    (found,) = mean_cumulative(events, units, by=[], min_at_risk=1)
    for row in found.curve.iloc[1::7].itertuples():
        assert row.standard_error == pytest.approx(np.sqrt(robust_variance(events, units, row.at)), rel=1e-10, abs=1e-10)


def test_counting_begins_where_enough_are_at_risk_and_is_drawn_to_where_enough_are():
    late = pd.DataFrame({"unit": range(1, 21), "entry": 100.0, "exit": np.arange(201.0, 221.0)})
    units = pd.concat([pd.DataFrame({"unit": [0], "entry": [0.0], "exit": [300.0]}), late])
    found = only("0 30\n0 150\n3 150\n0 250", units, min_at_risk=None)
    assert (found.min_at_risk, found.counted_from, found.drawn_to) == (10, 100, 212)
    curve = found.curve
    assert curve["at"].iloc[0] == 100
    assert curve["at_risk"].iloc[0] == 21
    assert curve.loc[curve["at"] == 150, "mean_count"].item() == pytest.approx(2 / 21)
    assert curve.loc[curve["is_drawn"], "at"].max() == 212
    assert found.overall.estimate == pytest.approx(2 / 21)
    assert curve["mean_count"].iloc[-1] == pytest.approx(2 / 21 + 1)
    assert (found.units, found.failures) == (21, 4)


@pytest.mark.parametrize(("asked", "least", "counted_from", "drawn_to"), [(3, 3, 5, 10), (2, 2, 0, 20), (0, 1, 0, 20)])
def test_as_many_as_asked_for_are_at_risk_and_at_least_one(asked, least, counted_from, drawn_to):
    found = only("1 5\n2 8\n2 15\n3 15", min_at_risk=asked)
    assert (found.min_at_risk, found.counted_from, found.drawn_to) == (least, counted_from, drawn_to)


def test_too_few_at_risk_and_no_failures_are_reasons_and_not_numbers():
    few = only("1 5", min_at_risk=None)
    assert (few.overall.because, few.drawn_to) == (Because.TOO_FEW_AT_RISK, None)
    assert not few.curve["is_drawn"].any()
    (none,) = mean_cumulative(table("unit at\n1 5").iloc[:0], THREE, by=[], min_at_risk=1)
    assert (none.overall.estimate, none.overall.because) == (None, Because.NO_FAILURES)
    assert none.curve[["low", "high"]].isna().all(axis=None)
    assert mean_cumulative(table("unit at\n1 5").iloc[:0], THREE.iloc[:0], by=[]) == []


def test_one_unit_has_the_limits_of_a_poisson_count():
    found = only("1 2\n1 3\n1 3\n1 4", THREE.iloc[:1])
    factor = np.exp(1.959964 / np.sqrt(4))
    overall = found.overall
    assert (overall.low, overall.estimate, overall.high) == pytest.approx((4 / factor, 4, 4 * factor), rel=1e-6)


def test_permuted_rows_and_rescaled_ages_give_the_same_answer_and_groups_stand_alone():
    events, units = random_units(8, units=90, groups=3, spread=0.5)
    whole = mean_cumulative(events, units, by=["group"])
    other = mean_cumulative(
        events.assign(at=events["at"] * 24).sample(frac=1, random_state=1),
        units.assign(entry=units["entry"] * 24, exit=units["exit"] * 24).sample(frac=1, random_state=2),
        by=["group"],
    )
    for place, (one, two) in enumerate(zip(whole, other, strict=True)):
        assert one.by == two.by == (place,)
        pd.testing.assert_frame_equal(one.curve.assign(at=one.curve["at"] * 24), two.curve)
        mine = units[units["group"] == place]
        (alone,) = mean_cumulative(events[events["unit"].isin(mine["unit"])], mine, by=[])
        pd.testing.assert_frame_equal(alone.curve, one.curve)


def test_a_thousand_groups_of_one_unit_each_are_answered():
    units = pd.DataFrame({"unit": range(1000), "entry": 0.0, "exit": 10.0})
    found = mean_cumulative(pd.DataFrame({"unit": range(1000), "at": 4.0}), units, by=["unit"], min_at_risk=1)
    assert [one.overall.estimate for one in found] == [1.0] * 1000


@pytest.mark.parametrize("spread", [0.0, 0.5])
def test_the_limits_cover_the_true_mean_of_units_that_differ(spread):
    held = []
    for seed in range(200):
        found = mean_cumulative(*random_units(seed, units=40, shape=1.5, spread=spread), by=[])[0]
        row = found.curve[found.curve["at"] <= 500].iloc[-1]
        truth = (500 / 400) ** 1.5 - (found.counted_from / 400) ** 1.5
        held.append(row["low"] <= truth <= row["high"])
    assert 0.91 <= np.mean(held) <= 0.985


def two(seed: int, **rest):
    events, units = random_units(seed, units=80, groups=2, **rest)
    return events, units


def test_a_difference_is_that_of_both_curves_counted_from_the_same_age_and_its_variances_add():
    events, units = two(4, late_share=0.0)
    first, second = mean_cumulative(events, units, by=["group"])
    found = difference(events, units, by=["group"], first=(0,), second=(1,))
    assert found.compared_at == min(first.drawn_to, second.drawn_to)
    rows = [one.curve[one.curve["at"] <= found.compared_at].iloc[-1] for one in (first, second)]
    error = np.sqrt(sum(max(row["standard_error"], row["poisson_error"]) ** 2 for row in rows))
    gap = rows[1]["mean_count"] - rows[0]["mean_count"]
    overall = found.overall
    assert (overall.low, overall.estimate, overall.high) == pytest.approx(
        (gap - 1.959964 * error, gap, gap + 1.959964 * error), rel=1e-6
    )
    turned = difference(events, units, by=["group"], first=(1,), second=(0,)).overall
    assert (-turned.high, -turned.estimate, -turned.low) == pytest.approx((overall.low, gap, overall.high))


def test_a_difference_ends_where_the_first_of_both_groups_is_watched_no_more():
    units = pd.DataFrame({"site": ["a"] * 3 + ["b"] * 3, "unit": range(6), "entry": 0.0, "exit": [50.0] * 3 + [80.0] * 3})
    events = pd.DataFrame({"unit": [0, 3, 4], "at": [10.0, 20.0, 70.0]})
    found = difference(events, units, by=["site"], first=("a",), second=("b",), min_at_risk=1)
    assert found.curve["at"].tolist() == [0, 10, 20, 50]
    assert found.curve["difference"].tolist() == pytest.approx([0, -1 / 3, 0, 0])
    assert (found.compared_at, found.curve["at_risk_second"].tolist()) == (50, [3, 3, 3, 3])


def test_groups_of_one_rate_seldom_differ_and_those_of_another_mostly_do():
    false = [difference(*two(seed, spread=0.5), by=["group"], first=(0,), second=(1,)).is_shown for seed in range(200)]
    assert np.mean(false) <= 0.09
    found = []
    for seed in range(40):
        events, units = two(seed, spread=0.5)
        slow = events["unit"].map(units["group"]).eq(0) & (np.random.default_rng(seed).random(len(events)) < 0.75)
        found.append(difference(events[~slow], units, by=["group"], first=(0,), second=(1,)))
    assert np.mean([one.is_shown and one.overall.estimate > 0 for one in found]) > 0.8


def test_groups_never_watched_at_the_same_ages_or_without_failures_are_not_compared():
    units = pd.DataFrame({"site": ["a"] * 12 + ["b"] * 12, "unit": range(24), "entry": [0.0] * 12 + [50.0] * 12})
    units["exit"] = units["entry"] + 40
    events = pd.DataFrame({"unit": [0, 13], "at": [5.0, 60.0]})
    apart = difference(events, units, by=["site"], first=("a",), second=("b",))
    assert (apart.because, apart.overall.because, apart.is_shown) == (Because.NO_COMMON_AGE, Because.NO_COMMON_AGE, False)
    together = units.assign(entry=0.0, exit=90.0)
    none = difference(events.iloc[:0], together, by=["site"], first=("a",), second=("b",))
    assert none.because is Because.NO_FAILURES
    with pytest.raises(InputError, match="not two of the groups"):
        difference(events, units, by=["site"], first=("a",), second=("c",))
