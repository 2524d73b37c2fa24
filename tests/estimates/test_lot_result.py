"""Results of lots against forecasts: parts that add up, each alone, and what is not known."""

from __future__ import annotations

from dataclasses import astuple, fields, replace

import numpy as np
import pytest

from pipelines.errors import InputError
from pipelines.estimates.lot_fate import FATES
from pipelines.estimates.lot_inputs import Amount, Portion
from pipelines.estimates.lot_result import Came, Differences, differences, expected_value
from pipelines.estimates.lot_value import lot_values
from tests.estimates.lots import plain_inputs

INPUTS = plain_inputs(other_fault=Portion(0.1), returned=Portion(0.05), resale=Amount(np.array([[30.0], [44.0]])))
UNITS = np.array([[12.0, 4.0, 3.0, 1.0], [6.0, 2.0, 1.5, 0.5]])


def as_expected(units: np.ndarray = UNITS) -> Came:
    """Return a result that is what was forecast, though nobody can sell a tenth of a unit."""
    sold = units * [0.9, 0.9, 0.9, 0.0]
    worked = sold + np.array([0, 0, 0, 1]) * units
    lost_h = (units - worked) * 0.5
    hours = worked * 0.5 + lost_h
    parts = np.zeros_like(units)
    parts[:, 2] = 4.0
    spent = worked * (0.5 + parts) + (units - worked) * 0.5
    income = sold * np.array([[30.0], [44.0]])
    return Came(units, sold, sold, income, units, hours, units, spent, sold * 0.05, np.zeros_like(units), np.zeros(len(units)))


def drawn(seed: int) -> Came:
    """Return a result of whole units that is like no forecast."""
    rng = np.random.default_rng(seed)
    units = rng.integers(0, 9, (2, 4)).astype(float)
    sold = np.floor(units * rng.uniform(0.5, 1, (2, 4)))
    sold[:, 3] = np.minimum(sold[:, 3], 1)
    timed, costed = np.floor(units * 0.8), np.floor(units * 0.6)
    return Came(
        units, sold, sold, sold * rng.uniform(5, 60, (2, 4)), timed, timed * rng.uniform(0.1, 2, (2, 4)), costed,
        costed * rng.uniform(0, 9, (2, 4)), np.floor(sold * 0.3), sold * 0.2, rng.integers(0, 3, 2).astype(float),
    )  # fmt: skip


def value_by_hand(came: Came) -> float:
    """Return what a result is worth, unit by unit, apart from `differences`: everything timed and costed."""
    fee, freight_out, harvest, back = 0.9, 3.0, 2.0, 20.0
    good = slice(0, 3)
    revenue = came.income[:, good].sum() * fee + came.income[:, 3].sum()
    revenue += harvest * ((came.units - came.sold)[:, good].sum() + (came.units - came.sold)[:, 3].sum())
    cost = 12.0 * came.hours.sum() + came.spent.sum() + freight_out * came.sold[:, good].sum()
    expected = came.returned + 0.05 * came.unwatched
    return revenue - cost - back * expected[:, good].sum()


def test_a_result_as_forecast_differs_in_nothing():
    assert astuple(differences(UNITS, INPUTS, as_expected())) == pytest.approx([0.0] * 7, abs=1e-12)


def test_the_forecast_is_the_mean_of_the_draws():
    units = np.random.default_rng(1).multinomial(20, UNITS[0] / 20, 60_000)[:, None, :]
    one = plain_inputs(other_fault=Portion(0.1), returned=Portion(0.05, 40.0))
    drawn_values = lot_values(units, one, seed=2).value
    assert expected_value(units.mean(axis=0), one) == pytest.approx(drawn_values.mean(), abs=4 * drawn_values.std() / 245)


@pytest.mark.parametrize("seed", range(12))
def test_the_parts_add_up_to_the_whole_difference(seed):
    came = drawn(seed)
    whole = replace(came, timed=came.units, costed=came.units, waiting=np.zeros(2))
    found = differences(UNITS, INPUTS, whole)
    assert expected_value(UNITS, INPUTS) + found.total == pytest.approx(value_by_hand(whole))


def only(name: str, **changed: object) -> Differences:
    """Return the differences of a result as forecast but for one thing, of which nothing else may be touched."""
    found = differences(UNITS, INPUTS, replace(as_expected(), **changed))
    others = [getattr(found, one.name) for one in fields(found) if one.name != name]
    assert others == pytest.approx([0.0] * 6, abs=1e-12)
    assert found.worst == (name if found.total < 0 else None)
    return found


def test_each_part_is_told_alone():
    came = as_expected()
    assert only("prices", income=came.income * 0.9).prices == pytest.approx(-0.1 * came.income.sum() * 0.9)
    assert only("hours", hours=came.hours + 1.0).hours == pytest.approx(-8 * 12.0)
    assert only("spent", spent=came.spent + 1.0).spent == pytest.approx(-8.0)
    more = came.returned.copy()
    more[0, 0] += 2
    assert only("returns", returned=more).returns == pytest.approx(-40.0)
    short = as_expected(UNITS * 0.9)
    found = differences(UNITS, INPUTS, short)
    assert found.units == pytest.approx(-0.1 * expected_value(UNITS, INPUTS))
    assert found.total == pytest.approx(found.units)


def test_fewer_good_units_are_told_apart_from_those_unsold():
    worse = np.array([[6.0, 4.0, 5.0, 5.0], [3.0, 2.0, 2.5, 2.5]])
    found = differences(UNITS, INPUTS, as_expected(worse))
    assert found.fates < 0
    assert found.total == pytest.approx(found.fates)
    left = as_expected()
    unsold = differences(UNITS, INPUTS, replace(left, sold=left.sold * 0, priced=left.sold * 0, income=left.income * 0))
    assert unsold.unsold < 0


def test_what_is_not_known_or_still_out_counts_as_forecast():
    came, none = as_expected(), np.zeros_like(UNITS)
    unknown = replace(came, priced=none, income=none, timed=none, hours=none, costed=none, spent=none)
    assert differences(UNITS, INPUTS, unknown).total == pytest.approx(0, abs=1e-9)
    half = as_expected(UNITS / 2)
    waiting = replace(half, waiting=UNITS.sum(axis=1) / 2)
    assert differences(UNITS, INPUTS, waiting).total == pytest.approx(0, abs=1e-9)
    nothing = replace(came, returned=none, unwatched=came.sold)
    assert differences(UNITS, INPUTS, nothing).total == pytest.approx(0, abs=1e-9)


def test_scrap_sold_for_parts_brings_its_price_instead_of_its_harvest():
    came = as_expected()
    sold, income = came.sold.copy(), came.income.copy()
    sold[0, 3], income[0, 3] = 1.0, 9.0
    found = differences(UNITS, INPUTS, replace(came, sold=sold, priced=sold, income=income))
    assert found.prices == pytest.approx(9.0 - 2.0)
    assert found.total == pytest.approx(7.0)


@pytest.mark.parametrize("seed", range(4))
def test_another_order_of_families_and_another_currency_change_nothing_else(seed):
    came = drawn(seed)
    turned = Came(**{one.name: getattr(came, one.name)[::-1] for one in fields(came)})
    inputs = replace(INPUTS, resale=Amount(np.array([[44.0], [30.0]])))
    first = differences(UNITS, INPUTS, came)
    assert astuple(differences(UNITS[::-1], inputs, turned)) == pytest.approx(astuple(first))
    money = ("resale", "labour_per_h", "part_cost", "consumables", "freight_out", "return_cost", "harvest")
    dear = replace(INPUTS, **{name: Amount(np.asarray(getattr(INPUTS, name).mean) * 7) for name in money})
    paid = replace(came, income=came.income * 7, spent=came.spent * 7)
    assert astuple(differences(UNITS, dear, paid)) == pytest.approx([7 * one for one in astuple(first)])


def test_impossible_results_are_refused():
    came = as_expected()
    for wrong in (
        replace(came, sold=came.units + 1),
        replace(came, priced=came.sold + 1),
        replace(came, timed=came.units + 1),
        replace(came, hours=np.zeros((1, 4))),
        replace(came, waiting=np.zeros(3)),
    ):
        with pytest.raises(InputError):
            differences(UNITS, INPUTS, wrong)
    with pytest.raises(InputError):
        differences(np.zeros_like(UNITS), INPUTS, came)
    assert len(FATES) == UNITS.shape[1]
