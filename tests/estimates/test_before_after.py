"""Before and after on made floors: no change is not called one, the worst units picked are no success, a halving is found."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.before_after import fair_change, sides
from pipelines.estimates.rate_ratio import rate, rate_ratio
from pipelines.vocabulary import Because

COLUMNS = ["before_faults", "before_exposure", "after_faults", "after_exposure"]


def floor(
    rng: np.random.Generator, *, units: int = 100, mean: float = 4.0, variation: float = 0.45, picked: str = "all",
    effect: float = 1.0, common: float = 1.0, count: int = 10,
) -> tuple[pd.DataFrame, pd.DataFrame]:  # fmt: skip
    """Return the units in the programme and the others; picked: worst, random or all."""
    own = mean * (rng.gamma(variation**-2, variation**2, units) if variation else np.ones(units))
    before = rng.gamma(9, 1 / 9, units)
    after = before * rng.gamma(30, 1 / 30, units)
    faults = rng.poisson(own * before)
    order = {"worst": np.argsort(-(faults + rng.random(units) / 10)), "random": rng.permutation(units), "all": np.arange(units)}[
        picked
    ]
    is_in = np.isin(np.arange(units), order if picked == "all" else order[:count])
    later = rng.poisson(own * after * common * np.where(is_in, effect, 1.0))
    frame = pd.DataFrame(dict(zip(COLUMNS, (faults, before, later, after), strict=True)))
    return frame[is_in], frame[~is_in]


def shown(ratio) -> tuple[bool, bool]:
    """Tell whether a ratio shows fewer, and more."""
    return ratio.high is not None and ratio.high < 1, ratio.low is not None and ratio.low > 1


def test_two_sides_of_one_rate_are_the_exact_ratio_of_their_counts():
    frame = pd.DataFrame([[5, 10.0, 3, 12.0]], columns=COLUMNS)
    found = sides(frame)
    assert found.ratio == rate_ratio(3, 12.0, 5, 10.0)
    assert (found.before, found.after) == (rate(5, 10.0), rate(3, 12.0))
    assert (found.units, found.spread) == (1, 1.0)


def test_a_fleet_without_change_is_called_changed_in_at_most_the_stated_share():
    rng = np.random.default_rng(11)
    found = np.array([shown(sides(floor(rng, mean=2.0)[0]).ratio) for _ in range(600)]).mean(axis=0)
    assert found.sum() <= 0.05 + 3 * (0.05 * 0.95 / 600) ** 0.5


@pytest.mark.parametrize("variation", [0.0, 0.45, 0.9])
def test_the_ten_worst_of_a_hundred_left_alone_are_no_success(variation):
    rng = np.random.default_rng(12)
    fair, plain = [], []
    for _ in range(300):
        chosen, others = floor(rng, variation=variation, picked="worst")
        fair.append(shown(fair_change(chosen, others, is_picked=True).ratio)[0])
        plain.append(shown(sides(chosen).ratio)[0])
    assert np.mean(fair) <= 0.05 + 3 * (0.05 * 0.95 / 300) ** 0.5
    assert np.mean(plain) > 0.15  # what a plain comparison would have told


def test_what_changed_for_all_is_taken_off():
    rng = np.random.default_rng(13)
    found = np.array([
        shown(fair_change(*floor(rng, picked="random", count=50, common=1.5), is_picked=is_picked).ratio)
        for is_picked in (True, False) for _ in range(200)
    ]).mean(axis=0)  # fmt: skip
    assert found.sum() <= 0.05 + 3 * (0.05 * 0.95 / 400) ** 0.5


@pytest.mark.parametrize(("picked", "count"), [("worst", 10), ("random", 50)])
def test_a_true_halving_is_found_with_the_printed_power(picked, count):
    rng = np.random.default_rng(14)
    found, said, ratios = [], [], []
    for _ in range(300):
        one = fair_change(*floor(rng, mean=6.0, picked=picked, count=count, effect=0.5), is_picked=True)
        found.append(shown(one.ratio)[0])
        said.append(one.power)
        ratios.append(one.ratio.estimate)
    assert np.mean(found) == pytest.approx(np.mean(said), abs=0.06)
    assert np.exp(np.mean(np.log(ratios))) == pytest.approx(0.5, rel=0.06)


def test_order_of_rows_and_unit_of_time_do_not_matter():
    chosen, others = floor(np.random.default_rng(15), picked="worst")
    one = fair_change(chosen, others, is_picked=True)
    scale = {"before_exposure": 60.0, "after_exposure": 60.0}
    parts = [part.assign(**{name: part[name] * by for name, by in scale.items()}).iloc[::-1] for part in (chosen, others)]
    other = fair_change(*parts, is_picked=True)
    assert (other.ratio.low, other.ratio.high) == (pytest.approx(one.ratio.low), pytest.approx(one.ratio.high))
    assert other.power == pytest.approx(one.power)


def test_no_units_no_faults_and_no_others():
    chosen, others = floor(np.random.default_rng(16), picked="worst")
    empty = chosen.iloc[:0]
    assert sides(empty).ratio.because is Because.NO_SPELLS
    assert fair_change(empty, others, is_picked=True).ratio.because is Because.NO_SPELLS
    nobody = chosen.assign(before_faults=0)
    assert fair_change(nobody, others.assign(before_faults=0), is_picked=True).ratio.because is Because.NO_FAILURES
    cured = fair_change(chosen.assign(after_faults=0), others, is_picked=True).ratio
    assert (cured.estimate, cured.because) == (None, Because.NO_FAILURES)
    assert cured.high < 1
    alone = fair_change(chosen, empty, is_picked=True)
    assert (alone.shrunk_share, alone.others_change) == (None, None)
    assert fair_change(chosen.iloc[:1], others, is_picked=True).ratio.high is not None
    few = fair_change(chosen, others.iloc[:5], is_picked=True)
    assert few.others_change is None
    assert few.shrunk_share is not None


def test_units_watched_on_one_side_are_refused():
    chosen, _ = floor(np.random.default_rng(17))
    for bad in (chosen.assign(after_exposure=0.0), chosen.assign(before_faults=-1), chosen.drop(columns="after_faults")):
        with pytest.raises(InputError):
            sides(bad)
